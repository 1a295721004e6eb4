"""Reads of lots: the list, one with its history, what to take first."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import UTC, datetime
from typing import Any, Final, NamedTuple

from django.db.models import Count, DateTimeField, Q, QuerySet, Value
from django.db.models.functions import Coalesce, Least

from inventory.stock.models import Disposition, HeldLot, Hold, Lot, LotEvent, Movement
from inventory.stock.selectors.among import Among, AmongCodes, GivenMany
from inventory.stock.selectors.amounts import AmountRow, amount_of, amount_row
from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.errors import NotFoundError
from shopfloor.fields import rfc3339
from shopfloor.money import money_text
from shopfloor.prepared import Given, Prepared

LOT_COLUMNS = (
    "id",
    "code",
    "item__code",
    "item__name",
    "item__dimension",
    "item__display_unit",
    "place__code",
    "owner",
    "grade",
    "disposition",
    "supplier__code",
    "supplier_lot_code",
    "parent__code",
    "born_at",
    "expires_at",
    "opened_at",
    "discard_at",
    "on_hand_base",
    "value_micro",
)


NEVER = Value(datetime(9999, 1, 1, tzinfo=UTC))


class LotRow(NamedTuple):
    """A lot as the API shows one."""

    code: str
    item: str
    item_name: str
    place: str
    owner: str
    grade: str
    disposition: str
    supplier: str | None
    supplier_lot_code: str
    split_from: str | None
    born_at: datetime
    expires_at: datetime | None
    opened_at: datetime | None
    discard_at: datetime | None
    on_hand: AmountRow
    value: str


class HistoryRow(NamedTuple):
    """One line of a lot's history: a movement, or an event."""

    at: datetime
    recorded_at: datetime
    by: str
    kind: str
    posting: str | None
    document: str
    reason: str
    amount: AmountRow | None
    value: str | None
    before: str
    after: str


class HoldRow(NamedTuple):
    """A hold on a lot."""

    code: str
    lot: str
    reason: str
    by: str
    at: datetime
    released_at: datetime | None
    release_reason: str
    lots_stopped: int


class HoldPage(NamedTuple):
    """A hold and the lots it stopped."""

    hold: HoldRow
    lots: list[LotRow]


class LotPage(NamedTuple):
    """A lot with everything that happened to it, newest first."""

    lot: LotRow
    holds: list[HoldRow]
    history: list[HistoryRow]


def lots() -> Any:
    """All lots, to be filtered and paged; `lot_rows` makes rows of a page."""
    return Lot.objects.order_by("id").values(*LOT_COLUMNS)


def lot_row(row: dict[str, Any]) -> LotRow:
    """One row of `lots()`. No query."""
    return LotRow(
        code=row["code"],
        item=row["item__code"],
        item_name=row["item__name"],
        place=row["place__code"],
        owner=row["owner"],
        grade=row["grade"],
        disposition=row["disposition"],
        supplier=row["supplier__code"],
        supplier_lot_code=row["supplier_lot_code"],
        split_from=row["parent__code"],
        born_at=row["born_at"],
        expires_at=row["expires_at"],
        opened_at=row["opened_at"],
        discard_at=row["discard_at"],
        on_hand=amount_row(
            row["on_hand_base"], dimension=row["item__dimension"], unit=row["item__display_unit"]
        ),
        value=money_text(row["value_micro"]),
    )


def lot_by_id(lot_id: int) -> LotRow:
    """One lot that is known to stand. One statement."""
    return lot_row(lots().get(pk=lot_id))


def lots_by_id(lot_ids: Iterable[int]) -> list[LotRow]:
    """Lots in the order of their ids. One statement."""
    return [lot_row(row) for row in lots().filter(pk__in=list(lot_ids))]


def lot_page(code: str, most: int = 500) -> LotPage:
    """One lot, its holds and its newest `most` movements and events. Four statements.

    Raises:
        NotFoundError: no such lot.
    """
    row = lots().filter(code=code).first()
    if row is None:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lot=code)
    history = [*_movements(row, most), *_events(row["id"], most)]
    history.sort(key=lambda line: (line.at, line.recorded_at), reverse=True)
    return LotPage(lot=lot_row(row), holds=_holds(row["id"]), history=history[:most])


def _movements(row: dict[str, Any], most: int) -> list[HistoryRow]:
    found = (
        Movement.objects.filter(lot_id=row["id"])
        .select_related("posting__by")
        .order_by("-id")[:most]
    )
    return [
        HistoryRow(
            at=m.posting.at,
            recorded_at=m.posting.recorded_at,
            by=m.posting.by.username,
            kind=m.posting.kind,
            posting=m.posting.code,
            document=" ".join(filter(None, [m.posting.document_kind, m.posting.document_code])),
            reason=m.posting.reason,
            amount=amount_row(
                m.qty_base, dimension=row["item__dimension"], unit=row["item__display_unit"]
            ),
            value=money_text(m.value_micro),
            before="",
            after="",
        )
        for m in found
    ]


def _events(lot_id: int, most: int) -> list[HistoryRow]:
    found = LotEvent.objects.filter(lot_id=lot_id).select_related("by").order_by("-id")[:most]
    return [
        HistoryRow(
            at=e.at,
            recorded_at=e.recorded_at,
            by=e.by.username,
            kind=e.kind,
            posting=None if e.posting_id is None else encode(e.posting_id, "P"),
            document="",
            reason=e.reason,
            amount=None,
            value=None,
            before=e.before,
            after=e.after,
        )
        for e in found
    ]


def _holds(lot_id: int) -> list[HoldRow]:
    found = holds().filter(pk__in=HeldLot.objects.filter(lot=lot_id).values("hold"))
    return [hold_row(hold) for hold in found]


def holds() -> QuerySet[Hold]:
    """All holds, newest first, to be filtered and paged."""
    return (
        Hold.objects.select_related("lot", "by", "release")
        .annotate(lots_stopped=Count("held_lots"))
        .order_by("-id")
    )


def hold_page(code: str) -> HoldPage:
    """One hold and the lots it stopped. Two statements.

    Raises:
        NotFoundError: no such hold.
        CodeTypoError: a slip in the code.
    """
    hold = holds().filter(pk=decode(code, Prefix.HOLD)[1]).first()
    if hold is None:
        raise NotFoundError("No hold has this code.", hold=code)
    stopped = lots().filter(pk__in=HeldLot.objects.filter(hold=hold).values("lot"))
    return HoldPage(hold=hold_row(hold), lots=[lot_row(row) for row in stopped])


def hold_row(hold: Any) -> HoldRow:
    """One hold of `holds()`. No query."""
    release = getattr(hold, "release", None)
    return HoldRow(
        code=hold.code,
        lot=hold.lot.code,
        reason=hold.reason,
        by=hold.by.username,
        at=hold.at,
        released_at=None if release is None else release.at,
        release_reason="" if release is None else release.reason,
        lots_stopped=hold.lots_stopped,
    )


def usable_lots(
    *,
    item_ids: Collection[int] | GivenMany,
    at: datetime | Given,
    also_codes: Collection[str] | GivenMany = (),
) -> QuerySet[Lot]:
    """Our lots of some items that may be used at a time, first expired first; and lots by code.

    The first life to end counts, that of the lot or that of the opened container; what never ends
    comes last, and
    among equals what came in first. Evaluated: one statement.
    """
    usable = Q(
        Among("item", item_ids),
        on_hand_base__gt=0,
        disposition=Disposition.RELEASED,
        owner="",
        born_at__lte=at,
    )
    usable &= Q(expires_at__isnull=True) | Q(expires_at__gte=at)
    usable &= Q(discard_at__isnull=True) | Q(discard_at__gte=at)
    wanted = usable | Q(AmongCodes("code", also_codes)) if also_codes else usable
    return (
        Lot.objects.filter(wanted)
        .select_related("item")
        .order_by(
            Least(Coalesce("discard_at", NEVER), Coalesce("expires_at", NEVER)), "born_at", "id"
        )
    )


usable_lots_asked = Prepared(
    lambda: usable_lots(item_ids=GivenMany("item_ids"), at=Given("at", DateTimeField()))
)
"""`usable_lots` without other codes, compiled once."""

usable_or_named_lots_asked = Prepared(
    lambda: usable_lots(
        item_ids=GivenMany("item_ids"),
        at=Given("at", DateTimeField()),
        also_codes=GivenMany("also_codes"),
    )
)
"""`usable_lots` with other codes, compiled once."""


class BlockedRow(NamedTuple):
    """A lot that holds something but may not be used, and why."""

    lot: str
    item: str
    on_hand: AmountRow
    why: str


def unusable_lots(*, item_ids: Collection[int], at: datetime, most: int = 20) -> list[BlockedRow]:
    """Lots of some items that hold something and may not be used at a time. One statement."""
    usable = usable_lots(item_ids=item_ids, at=at).order_by().values("pk")
    found = (
        Lot.objects.filter(item__in=item_ids, on_hand_base__gt=0)
        .exclude(pk__in=usable)
        .select_related("item")
        .order_by("-on_hand_base", "id")[:most]
    )
    return [
        BlockedRow(lot.code, lot.item.code, amount_of(lot.item, lot.on_hand_base), _why(lot, at))
        for lot in found
    ]


def _why(lot: Lot, at: datetime) -> str:
    if lot.disposition != Disposition.RELEASED:
        return str(lot.disposition)
    if lot.owner:
        return "not ours"
    if lot.born_at > at:
        return "came in later"
    return "expired" if lot.expires_at is not None and lot.expires_at < at else "open too long"


def usable_until(lot: Lot) -> datetime | None:
    """When the first of a lot's two lives ends; None when neither does."""
    ends = [end for end in (lot.expires_at, lot.discard_at) if end is not None]
    return min(ends) if ends else None


def as_json(row: Any) -> Any:
    """A row of this room as JSON: tuples with names become objects, moments RFC 3339."""
    kind = type(row)
    if kind in _AS_THEY_ARE:  # most of what a long answer is made of
        return row
    if kind is list:
        return [as_json(value) for value in row]
    if isinstance(row, tuple) and hasattr(row, "_fields"):
        return {
            name: value if type(value) in _AS_THEY_ARE else as_json(value)
            for name, value in zip(row._fields, row, strict=True)
        }
    return rfc3339(row) if isinstance(row, datetime) else row


_AS_THEY_ARE: Final = frozenset({str, int, bool, type(None)})
