"""Which lots a row means: one by its code, what a batch made, or those of an item."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db.models import Q

from batches.exchange.rules.lists import LotUsed
from batches.exchange.selectors.made import made_lot_ids
from batches.runs.errors import MaterialShortError
from batches.runs.rules import split_by_first_expired
from batches.runs.selectors.proposals import lot_offer
from batches.runs.steps.drafts import LotUse
from batches.runs.steps.recorded import Recorded
from inventory.catalog.models import Item, PlaceKind
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among, AmongCodes, GivenMany
from inventory.stock.selectors.amounts import amount_of
from inventory.stock.selectors.lots import usable_lots_asked
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Prepared
from shopfloor.units import to_base


class LotNames:
    """Finds lots, and remembers what the batches of this import made."""

    def __init__(self) -> None:
        self._made: dict[tuple[str, str], list[int]] = {}
        self._items: dict[str, Item] = {}

    def learn(self, recorded: Recorded) -> None:
        """Remember what an entry made of its batch's item."""
        for lot in recorded.posted.made:
            if lot.item_id == recorded.batch.item_id:
                self._made.setdefault((recorded.batch.code, lot.grade), []).append(lot.pk)

    def lots(self, used: LotUsed, at: datetime) -> list[Lot]:
        """The lots with their items, in the order in which they are to be taken. One query.

        Raises:
            NotFoundError: no such lot, or nothing there that the batch made.
        """
        if used.by == "item":
            return usable_lots_asked(item_ids=[self._item(used.code).pk], at=at)
        return self.lots_of([used])[used]

    def lots_of(self, named: Collection[LotUsed]) -> dict[LotUsed, list[Lot]]:
        """The same for several that are named by lot or batch; one query more for a new batch.

        Raises:
            NotFoundError: no such lot, or nothing there that the batch made.
        """
        codes = [used.code for used in named if used.by == "lot"]
        made = {used: self._made_by(used) for used in named if used.by == "batch"}
        ids = {lot_id for of_batch in made.values() for lot_id in of_batch}
        lots = _lots_named(codes=codes, ids=ids)
        found = {}
        for used in named:
            of_batch = made.get(used)
            found[used] = [
                lot
                for lot in lots
                if (lot.code == used.code if of_batch is None else _is_left(lot, of_batch))
            ]
            if not found[used]:
                named_so = "has this code" if of_batch is None else "that batch made is left"
                raise NotFoundError(f"No lot {named_so}.", **{used.by: used.code})
        return found

    def _made_by(self, used: LotUsed) -> list[int]:
        key = (used.code, used.grade)
        if key not in self._made:
            # Not kept: a batch that was recorded before may be of this import as well, later on.
            return made_lot_ids(used.code, used.grade)
        return self._made[key]

    def uses(self, used: LotUsed, at: datetime) -> list[LotUse]:
        """What a run took of them: each scanned, or the amount spread over them.

        Raises:
            NotFoundError, UnitMismatchError: as named.
            MaterialShortError: they hold less.
        """
        if used.by == "lot" and used.amount is None:
            return [LotUse(used.code)]
        lots = self.lots(used, at)
        if used.amount is None:
            return [LotUse(lot.code, may_be_left=True) for lot in lots]
        item = self._item(used.code) if used.by == "item" else lots[0].item
        qty_base = to_base(amount=used.amount, unit=used.unit or "each", item=measure_of(item))
        if used.by == "lot":
            return [LotUse(used.code, qty_base)]
        return [LotUse(lot.code, part) for lot, part in spread(lots, qty_base)]

    def _item(self, code: str) -> Item:
        if code not in self._items:
            self._items[code] = Item.objects.get(code=code)
        return self._items[code]


_lots_named = Prepared(
    lambda: (
        Lot.objects.filter(
            Q(AmongCodes("code", GivenMany("codes"))) | Q(Among("pk", GivenMany("ids")))
        )
        .select_related("item", "place")
        .order_by("id")
    )
)


def _is_left(lot: Lot, ids: Collection[int]) -> bool:
    """Whether it is one of them, and holds something outside boxes."""
    return lot.pk in ids and lot.on_hand_base > 0 and lot.place.kind != PlaceKind.BOX


def spread(lots: Sequence[Lot], qty_base: int) -> list[tuple[Lot, int]]:
    """An amount taken of several lots, first expired first.

    Raises:
        MaterialShortError: they hold less.
    """
    proposal = split_by_first_expired(qty_base, [lot_offer(lot) for lot in lots])
    if proposal.short_base:
        item = lots[0].item
        raise MaterialShortError(
            "These lots hold less.",
            lots=[lot.code for lot in lots],
            wanted=amount_of(item, qty_base)._asdict(),
            missing=amount_of(item, proposal.short_base)._asdict(),
        )
    by_id = {lot.pk: lot for lot in lots}
    return [(by_id[lot_id], part) for lot_id, part in proposal.takes]
