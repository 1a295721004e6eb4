"""What cannot have happened.

More taken than there was, before the lot came in, into closed books, behind a count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db import connection
from django.db.models import Max

from inventory.catalog.models import PlaceKind
from inventory.stock.errors import (
    BalanceBelowZeroError,
    BooksClosedError,
    LotCountedSinceError,
    LotNotThereYetError,
    LotShippedError,
    LotShortError,
)
from inventory.stock.models import (
    BooksClosing,
    CountLine,
    Disposition,
    Lot,
    Movement,
    Posting,
    PostingKind,
)
from inventory.stock.selectors.amounts import amount_of, in_words
from inventory.stock.selectors.counting import STANDING
from shopfloor.days import shop_day
from shopfloor.money import VALUE_MICRO_MAX, money_text
from shopfloor.numerals import NumberTooLargeError
from shopfloor.stamp import Stamp
from shopfloor.units import AMOUNT_BASE_MAX, AmountTooLargeError


def refuse_impossible(changes: Sequence[tuple[Lot, int]], stamp: Stamp) -> None:
    """Refuse a change of locked lots that cannot have happened at that time.

    Args:
        changes: Lot and base units, negative out; a value-only change has 0.
        stamp: When it is said to have happened.

    Raises:
        BooksClosedError, LotShortError, LotNotThereYetError, LotCountedSinceError,
            BalanceBelowZeroError: as named.
    """
    refuse_closed_books(stamp, locked=changes[0][0] if changes else None)
    taken = [(lot, -qty_base) for lot, qty_base in changes if qty_base < 0]
    _refuse_short(taken)
    refuse_not_there_yet([lot for lot, _ in changes], stamp)
    backdated = [lot for lot, _ in changes if lot.touched_at > stamp.at]
    if backdated:
        refuse_counted_since(backdated, stamp.at)
        _refuse_below_zero(
            [(lot, qty) for lot, qty in taken if lot.touched_at > stamp.at], stamp.at
        )


def refuse_not_there_yet(lots: Iterable[Lot], stamp: Stamp) -> None:
    """Refuse what is said to have happened to lots before they came in.

    Raises:
        LotNotThereYetError: with the lots and when they came in.
    """
    early = [lot for lot in lots if lot.born_at > stamp.at]
    if not early:
        return
    raise LotNotThereYetError(
        "The lot came in after the time given. Give a later time."
        if stamp.at < stamp.now
        else f"The clock of this machine says {stamp.now:%Y-%m-%d %H:%M} UTC, and the lot came in"
        " after that. Set the clock right, then send the same again.",
        at=stamp.at.isoformat(),
        lots=[{"lot": lot.code, "came_in_at": lot.born_at.isoformat()} for lot in early],
    )


def refuse_too_large(lots: Iterable[tuple[int, int]]) -> None:
    """Refuse lots of more base units, or worth more, than an amount or a value may be.

    Raises:
        AmountTooLargeError, NumberTooLargeError: as named.
    """
    for qty_base, value_micro in lots:
        if qty_base > AMOUNT_BASE_MAX:
            raise AmountTooLargeError(
                "A lot would hold more than any shop can. Check the digits and the unit.",
                qty_base=qty_base,
                base_max=AMOUNT_BASE_MAX,
            )
        if value_micro > VALUE_MICRO_MAX:
            raise NumberTooLargeError(
                "A lot would be worth more than any shop has. Check the digits and the unit.",
                value=money_text(value_micro),
                value_max=money_text(VALUE_MICRO_MAX),
            )


def refuse_closed_books(stamp: Stamp, *, locked: Lot | None = None) -> None:
    """Refuse a time in a closed period.

    No statement for today, which is always open, nor where a lot was locked, which told it.

    Raises:
        BooksClosedError: the books are closed through that day.
    """
    day = shop_day(stamp.at)
    if day >= shop_day(stamp.now):
        return
    through: date | None = (
        _closed_through()
        if locked is None or not hasattr(locked, "books_closed_through")
        else locked.books_closed_through
    )
    if through is not None and day <= through:
        raise BooksClosedError(
            "The books are closed through that day. Record it on an open day, with a reason.",
            closed_through=through.isoformat(),
            day=day.isoformat(),
        )


def _closed_through() -> date | None:
    # Locked, so that a closing under way ends first, and the next one waits for this posting.
    last = BooksClosing.objects.select_for_update(no_key=True).order_by("-through").first()
    return None if last is None else last.through


def refuse_counted_since(lots: Iterable[Lot], at: datetime) -> None:
    """Refuse a change behind a count: the count found what was there, whatever happened before.

    Raises:
        LotCountedSinceError: with the lots and the time of their last count.
    """
    counted = (
        CountLine.objects.filter(STANDING, lot__in=list(lots), count__at__gt=at)
        .values("lot__code")
        .annotate(last=Max("count__at"))
        .order_by("lot__code")
    )
    rows = [{"lot": row["lot__code"], "counted_at": row["last"].isoformat()} for row in counted]
    if rows:
        raise LotCountedSinceError(
            "The lot was counted after that time, and the count already found what was there."
            " Record it as of now, or adjust the lot with a reason.",
            lots=rows,
        )


def refuse_shipped_in_box(emptied: Iterable[Lot]) -> None:
    """Refuse to put pieces into an empty lot that left with its box. One statement.

    Raises:
        LotShippedError: with the lots.
    """
    gone = (
        Movement.objects.filter(
            lot__in=list(emptied),
            lot__place__kind=PlaceKind.BOX,
            posting__kind=PostingKind.SHIPPED,
            posting__reversed_by=None,
        )
        .order_by("lot__code")
        .values_list("lot__code", flat=True)
    )
    if lots := list(gone):
        raise LotShippedError(
            "The lot left with its box. Record a return, or reverse the shipment.", lots=lots
        )


def _refuse_short(taken: Sequence[tuple[Lot, int]]) -> None:
    short = [(lot, wanted) for lot, wanted in taken if wanted > lot.on_hand_base]
    if not short:
        return
    first, wanted = short[0]
    raise LotShortError(
        f"Lot {first.code} holds {in_words(amount_of(first.item, first.on_hand_base))}, and "
        f"{in_words(amount_of(first.item, wanted))} are wanted of it."
        " Take less, or take the rest from another lot.",
        lots=[shortfall(lot, wanted) for lot, wanted in short],
        elsewhere=released_elsewhere([lot for lot, _ in short]),
    )


def shortfall(lot: Lot, wanted_base: int) -> dict[str, object]:
    """A lot that holds less than is wanted of it, as a fact of a refusal."""
    return {
        "lot": lot.code,
        "on_hand": amount_of(lot.item, lot.on_hand_base)._asdict(),
        "wanted": amount_of(lot.item, wanted_base)._asdict(),
    }


def released_elsewhere(lots: Sequence[Lot], most: int = 10) -> list[dict[str, Any]]:
    """Other released lots of the same items that hold something, at most `most`, fullest first."""
    found = (
        Lot.objects.filter(
            item__in={lot.item_id for lot in lots},
            on_hand_base__gt=0,
            disposition=Disposition.RELEASED,
            owner="",
        )
        .exclude(pk__in=[lot.pk for lot in lots])
        .order_by("-on_hand_base", "id")
        .select_related("item", "place")[:most]
    )
    return [
        {
            "lot": lot.code,
            "item": lot.item.code,
            "place": lot.place.code,
            "on_hand": amount_of(lot.item, lot.on_hand_base)._asdict(),
        }
        for lot in found
    ]


def _refuse_below_zero(taken: Sequence[tuple[Lot, int]], at: datetime) -> None:
    if not taken:
        return
    least = least_balances_since([lot.pk for lot, _ in taken], at)
    low = [(lot, wanted) for lot, wanted in taken if least.get(lot.pk, 0) < wanted]
    if low:
        raise BalanceBelowZeroError(
            "At some time since then the lot held less than this, so it cannot have been taken "
            "then."
            " Correct the later entries first, or take it from another lot.",
            at=at.isoformat(),
            lots=[
                {
                    "lot": lot.code,
                    "least_since": amount_of(lot.item, least.get(lot.pk, 0))._asdict(),
                    "wanted": amount_of(lot.item, wanted)._asdict(),
                }
                for lot, wanted in low
            ],
        )


def least_balances_since(lot_ids: Sequence[int], at: datetime) -> dict[int, int]:
    """The least that each lot held at `at` or at any time after, in base units, by lot id.

    A reversed posting and its reversal are left out: what never happened held nothing down. One
        statement.
    """
    posting = connection.ops.quote_name(Posting._meta.db_table)
    movement = connection.ops.quote_name(Movement._meta.db_table)
    marks = ", ".join(["%s"] * len(lot_ids))
    # The balance "at" is the sum of all up to then; MIN over a NULL-only column is NULL where
    # nothing came after.
    sql = f"""
        SELECT lot_id, SUM(CASE WHEN at <= %s THEN qty_base ELSE 0 END),
               MIN(CASE WHEN at > %s THEN balance END)
        FROM (
            SELECT m.lot_id, p.at, m.qty_base,
                   SUM(m.qty_base) OVER (PARTITION BY m.lot_id ORDER BY p.at, p.id) AS balance
            FROM {movement} m JOIN {posting} p ON p.id = m.posting_id
            WHERE m.lot_id IN ({marks}) AND p.kind <> 'reversed'
              AND NOT EXISTS (SELECT 1 FROM {posting} r WHERE r.reverses_id = p.id)
        ) AS line
        GROUP BY lot_id
    """  # noqa: S608 - our own table names
    moment = connection.ops.adapt_datetimefield_value(at)
    with connection.cursor() as cursor:
        cursor.execute(sql, [moment, moment, *lot_ids])
        rows = cursor.fetchall()
    return {int(lot): int(then if after is None else min(then, after)) for lot, then, after in rows}
