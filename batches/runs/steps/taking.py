"""What an entry takes from which lots.

Exact amounts, scanned lots, and the proposal for the rest.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime

from batches.bills.rules import items_over_share, line_need_base, share_base_max
from batches.bills.selectors.sheets import BillSheet, SheetAlternative, SheetLine
from batches.runs.errors import (
    AmountsMissingError,
    LotNotInBillError,
    LotNotOursError,
    MaterialShortError,
    NamedTwiceError,
    ScannedNotTakenError,
    ShareExceededError,
)
from batches.runs.rules import LotOffer, Take, split_by_first_expired
from batches.runs.steps.drafts import LotUse
from inventory.stock.models import Lot
from inventory.stock.selectors.among import AmongCodes, GivenMany
from inventory.stock.selectors.amounts import amount_of, in_words
from inventory.stock.selectors.lots import (
    as_json,
    unusable_lots,
    usable_lots_asked,
    usable_or_named_lots_asked,
    usable_until,
)
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Prepared


class Shelf:
    """The lots an entry may choose from, and what is left of them while it chooses."""

    def __init__(self, lots: Iterable[Lot], uses: Sequence[LotUse]) -> None:
        self.lots = {lot.pk: lot for lot in lots}
        by_code = {lot.code: lot for lot in self.lots.values()}
        missing = [use.lot_code for use in uses if use.lot_code not in by_code]
        if missing:
            raise NotFoundError(
                "No lot has this code. Check it, or scan the sticker.", lots=missing
            )
        if any(use.qty_base is not None and use.qty_base <= 0 for use in uses):
            raise AmountsMissingError("An amount that was taken is above zero.")
        self.exact = {
            by_code[use.lot_code].pk: use.qty_base for use in uses if use.qty_base is not None
        }
        self.scanned = [by_code[use.lot_code].pk for use in uses if use.qty_base is None]
        self.may_be_left = {by_code[use.lot_code].pk for use in uses if use.may_be_left}
        self.left = {lot.pk: lot.on_hand_base for lot in self.lots.values()}
        self.taken: dict[int, int] = {}

    def take(self, takes: Iterable[Take]) -> None:
        """Take amounts off the shelf."""
        for lot_id, qty_base in takes:
            self.left[lot_id] -= qty_base
            self.taken[lot_id] = self.taken.get(lot_id, 0) + qty_base

    def offers(self, item_ids: Iterable[int], *, scanned_only: bool = False) -> list[LotOffer]:
        """Lots of some items that still hold something; those scanned before the others."""
        wanted = set(item_ids)
        rank = {lot_id: number for number, lot_id in enumerate(self.scanned)}
        return [
            LotOffer(
                lot_id=lot.pk,
                available_base=max(self.left[lot.pk], 0),
                usable_until=usable_until(lot),
                born_at=lot.born_at,
                scanned_rank=rank.get(lot.pk),
            )
            for lot in self.lots.values()
            if lot.item_id in wanted
            and lot.pk not in self.exact
            and (lot.pk in rank or not scanned_only)
        ]

    def taken_of(self, item_ids: Iterable[int]) -> dict[str, int]:
        """Base units taken so far of some items, by item code."""
        wanted = set(item_ids)
        sums: dict[str, int] = {}
        for lot_id, qty_base in self.taken.items():
            item = self.lots[lot_id].item
            if item.pk in wanted:
                sums[item.code] = sums.get(item.code, 0) + qty_base
        return sums


def is_all_weighed(
    bill: BillSheet | None, *, pieces: int, first_entry: bool, uses: Sequence[LotUse]
) -> bool:
    """Whether lots named with amounts are all there is to take, so that none is proposed.

    At most one statement. Such lots can be locked at once: there is nothing to choose.
    """
    if not uses or any(use.qty_base is None for use in uses):
        return False
    if bill is None:
        return True
    weighed = {item_id for (item_id,) in _items_of_lots(codes=[use.lot_code for use in uses])}
    needs = needs_of(bill, pieces=pieces, first_entry=first_entry)
    for line in bill.taken:  # as `_fill` takes them: a lot goes to the first line that asks for it
        its = weighed.intersection(family_of(line))
        if needs[line.item.id] > 0 and not its:
            return False
        weighed -= its
    return True


_items_of_lots = Prepared(
    lambda: Lot.objects.filter(AmongCodes("code", GivenMany("codes"))).values_list("item_id")
)


def _shelf(
    item_ids: Collection[int],
    uses: Sequence[LotUse],
    at: datetime,
    locked: Mapping[int, Lot] | None,
) -> Shelf:
    """The usable lots of some items, and those named; or the locked ones. At most one statement."""
    if locked is not None:
        return Shelf(locked.values(), uses)
    codes = [use.lot_code for use in uses]
    if not codes:
        return Shelf(usable_lots_asked(item_ids=item_ids, at=at), uses)
    return Shelf(usable_or_named_lots_asked(item_ids=item_ids, at=at, also_codes=codes), uses)


def takes_by_bill(
    bill: BillSheet,
    *,
    pieces: int,
    first_entry: bool,
    uses: Sequence[LotUse],
    at: datetime,
    locked: Mapping[int, Lot] | None = None,
) -> dict[int, int]:
    """Base units to take, by lot id, for so many pieces worked on. At most one statement.

    Args:
        bill: What a piece takes.
        pieces: Good and scrapped.
        first_entry: Whether it takes what a batch takes once.
        uses: What was scanned or weighed.
        at: When.
        locked: The lots of `uses`, if they are all there is to take (`is_all_weighed`).

    Raises:
        NotFoundError: no such lot.
        NamedTwiceError: a lot stands twice.
        LotNotInBillError: a lot of an item that the bill does not ask for.
        LotNotOursError: a lot of somebody else.
        MaterialShortError: the released lots do not cover it.
        ScannedNotTakenError: a scanned lot is empty, or those scanned before it cover the need.
        ShareExceededError: an alternative goes beyond its share.
    """
    shelf, short = fill_by_bill(
        bill, pieces=pieces, first_entry=first_entry, uses=uses, at=at, locked=locked
    )
    if short:
        raise _short_error(short, at)
    _refuse_untaken(shelf)
    _refuse_excess(shelf, bill.taken)
    return shelf.taken


def fill_by_bill(
    bill: BillSheet,
    *,
    pieces: int,
    first_entry: bool,
    uses: Sequence[LotUse],
    at: datetime,
    locked: Mapping[int, Lot] | None = None,
) -> tuple[Shelf, list[tuple[SheetLine, int]]]:
    """What `takes_by_bill` takes, and the lines that no lot covers with the base units missing.

    At most one statement.

    Raises:
        NotFoundError, NamedTwiceError, LotNotInBillError, LotNotOursError: as there.
    """
    _refuse_twice(uses)
    families = {line.item.id: family_of(line) for line in bill.taken}
    item_ids = {item_id for family in families.values() for item_id in family}
    shelf = _shelf(item_ids, uses, at, locked)
    _refuse_strangers(shelf, item_ids, bill)
    needs = needs_of(bill, pieces=pieces, first_entry=first_entry)
    short = [
        (line, missing)
        for line in bill.taken
        if (missing := _fill(shelf, line, families[line.item.id], needs[line.item.id]))
    ]
    return shelf, short


def takes_without_bill(
    *, pieces: int, uses: Sequence[LotUse], at: datetime, locked: Mapping[int, Lot] | None = None
) -> dict[int, int]:
    """Base units to take, by lot id, where there is no bill (rework). At most one statement.

    Every lot comes with its amount; one without takes what others of its item leave of the pieces
    worked on.

    Raises:
        NotFoundError, NamedTwiceError, LotNotOursError: as with a bill.
        AmountsMissingError: no lot, or more than one without an amount.
    """
    _refuse_twice(uses)
    shelf = _shelf((), uses, at, locked)
    _refuse_others(shelf)
    scanned_items = {shelf.lots[lot_id].item_id for lot_id in shelf.scanned}
    rest = pieces - sum(
        qty for lot_id, qty in shelf.exact.items() if shelf.lots[lot_id].item_id in scanned_items
    )
    if not uses or len(shelf.scanned) > 1 or (shelf.scanned and rest <= 0):
        raise AmountsMissingError("There is no bill. Say how much was taken of every lot.")
    return {**shelf.exact, **dict.fromkeys(shelf.scanned, rest)}


def needs_of(bill: BillSheet, *, pieces: int, first_entry: bool) -> dict[int, int]:
    """What each line needs, base units by the id of its item."""
    return {
        line.item.id: line_need_base(
            per_piece_base=line.per_piece_base,
            pieces=pieces,
            per_batch_base=line.per_batch_base,
            loss_ratio=line.loss_ratio,
            first_entry=first_entry,
        )
        for line in bill.taken
    }


def family_of(line: SheetLine) -> list[int]:
    """Ids of a line's own item, and of those that may stand in for it."""
    return [line.item.id, *(alternative.item.id for alternative in line.alternatives)]


def _fill(shelf: Shelf, line: SheetLine, family: Sequence[int], need_base: int) -> int:
    """Take what a line needs; the base units that no lot covers."""
    exact = [
        Take(lot_id, qty)
        for lot_id, qty in shelf.exact.items()
        if shelf.lots[lot_id].item_id in family and lot_id not in shelf.taken and qty > 0
    ]
    shelf.take(exact)
    scanned = shelf.offers(family, scanned_only=True)
    if exact and not scanned:
        return 0  # weighed: what was taken is what counts, whatever the bill says
    rest = max(need_base - sum(qty for _, qty in exact), 0)
    for alternative in line.alternatives:
        rest = _fill_alternative(shelf, alternative, need_base, rest, scanned_only=True)
    own = split_by_first_expired(rest, shelf.offers([line.item.id]))
    shelf.take(own.takes)
    rest = own.short_base
    for alternative in line.alternatives:
        rest = _fill_alternative(shelf, alternative, need_base, rest, scanned_only=False)
    return rest


def _fill_alternative(
    shelf: Shelf, alternative: SheetAlternative, need_base: int, rest: int, *, scanned_only: bool
) -> int:
    """Take of an alternative what its share allows; what is still missing after."""
    most = share_base_max(whole_base=need_base, largest_ratio=alternative.largest_ratio)
    most -= shelf.taken_of([alternative.item.id]).get(alternative.item.code, 0)
    wanted = min(rest, max(most, 0))
    offers = shelf.offers([alternative.item.id], scanned_only=scanned_only)
    proposal = split_by_first_expired(wanted, offers)
    shelf.take(proposal.takes)
    return rest - (wanted - proposal.short_base)


def _refuse_twice(uses: Sequence[LotUse]) -> None:
    codes = [use.lot_code for use in uses]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise NamedTwiceError("A lot stands twice. Add its amounts up.", lots=twice)


def _refuse_strangers(shelf: Shelf, item_ids: set[int], bill: BillSheet) -> None:
    given = [shelf.lots[lot_id] for lot_id in (*shelf.exact, *shelf.scanned)]
    strangers = [lot for lot in given if lot.item_id not in item_ids]
    if strangers:
        asked = sorted(
            {line.item.code for line in bill.taken}
            | {other.item.code for line in bill.taken for other in line.alternatives}
        )
        raise LotNotInBillError(
            "The bill does not ask for this lot's item. Check what was scanned.",
            lots=[{"lot": lot.code, "item": lot.item.code} for lot in strangers],
            bill_asks_for=asked,
        )
    _refuse_others(shelf)


def _refuse_others(shelf: Shelf) -> None:
    others = [
        shelf.lots[lot_id] for lot_id in (*shelf.exact, *shelf.scanned) if shelf.lots[lot_id].owner
    ]
    if others:
        raise LotNotOursError(
            "This lot belongs to somebody else and cannot be used in a batch.",
            lots=[{"lot": lot.code, "owner": lot.owner} for lot in others],
        )


def _refuse_untaken(shelf: Shelf) -> None:
    """What was scanned was used: leaving it out of the books without a word would break a trace."""
    wanted = [lot_id for lot_id in shelf.scanned if lot_id not in shelf.may_be_left]
    untaken = [shelf.lots[lot_id] for lot_id in wanted if lot_id not in shelf.taken]
    if untaken:
        raise ScannedNotTakenError(
            "Nothing is taken of a lot that was scanned: it is empty in the books, or the lots"
            " before it cover the need. Say how much was taken of each, or leave it out.",
            lots=[{"lot": lot.code, "on_hand_base": lot.on_hand_base} for lot in untaken],
        )


def _refuse_excess(shelf: Shelf, lines: Iterable[SheetLine]) -> None:
    for line in lines:
        taken = shelf.taken_of(family_of(line))
        ratios = {other.item.code: other.largest_ratio for other in line.alternatives}
        over = items_over_share(
            whole_base=sum(taken.values()), taken_base=taken, largest_ratio=ratios
        )
        if over:
            raise ShareExceededError(
                f"{over[0]} goes beyond the share the bill allows. Take less of it.",
                item=line.item.code,
                taken_base=taken,
                largest_ratio={code: str(ratios[code]) for code in over},
            )


def _short_error(short: Sequence[tuple[SheetLine, int]], at: datetime) -> MaterialShortError:
    """Say what is missing, and which lots are there but may not be used."""
    item_of: Mapping[int, str] = {
        item_id: line.item.code for line, _ in short for item_id in family_of(line)
    }
    blocked = unusable_lots(item_ids=item_of, at=at)
    told = [(line.item.code, amount_of(line.item, missing)) for line, missing in short]
    words = ", ".join(f"{in_words(missing)} of {code}" for code, missing in told)
    return MaterialShortError(
        f"There is not enough released material; missing: {words}."
        " Receive, mix or release some, or record fewer pieces.",
        short=[{"item": code, "missing": missing._asdict()} for code, missing in told],
        not_usable=as_json(blocked),
    )
