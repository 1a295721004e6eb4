"""Counts: what somebody found, what the books said, and the posting of the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.stock.errors import CountChangedError, NotReversibleError
from inventory.stock.models import Count, CountLine, Lot, OutsideKind, PostingKind
from inventory.stock.rules import count_difference_micro
from inventory.stock.selectors.counting import inflows, refuse_twice
from inventory.stock.selectors.postings import count_of
from inventory.stock.steps.holding import rejoin_holds
from inventory.stock.steps.lots import lock_lots
from inventory.stock.steps.posting import Change, Posted, post
from inventory.stock.steps.refusals import (
    refuse_closed_books,
    refuse_counted_since,
    refuse_shipped_in_box,
)
from inventory.stock.steps.reversing import reverse_posting
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of one lot.

    Attributes:
        lot_code: The lot.
        found_base: Base units of its item, >= 0.
        expected_base: What the counter was shown; None if not shown. If the lot holds something
            else by now, the
            count is refused, since somebody took or added some in between.
    """

    lot_code: str
    found_base: int
    expected_base: int | None = None


@operation
def count_lots(*, found: Sequence[Found], stamp: Stamp) -> Count:
    """Record a count and post the difference of all its lots as one event. A count is of now.

    Raises:
        NotFoundError: no such lot.
        CountChangedError: a lot changed while it was counted.
        ReasonMissingError: no reason though there is a difference.
        InvalidInputError: a lot stands twice.
        LotShippedError: a lot left with its box.
        BooksClosedError, LotCountedSinceError: it cannot have been then.
    """
    assert found
    refuse_twice(line.lot_code for line in found)
    lots = lock_lots(line.lot_code for line in found)
    refuse_closed_books(stamp, locked=lots[found[0].lot_code])
    _refuse_changed(found, lots)
    later = [lot for lot in lots.values() if lot.touched_at > stamp.at]
    if later:
        raise CountChangedError(
            "Something was recorded for these lots after the time of the count. Count again.",
            lots=sorted(lot.code for lot in later),
        )
    refuse_counted_since(lots.values(), stamp.at)
    changes = _changes(found, lots)
    refuse_shipped_in_box(change.lot for change in changes if change.lot.on_hand_base == 0)
    if changes:
        stamp.refuse_no_reason()
    count = Count(at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason)
    if changes:
        posted = post(
            kind=PostingKind.COUNTED,
            stamp=stamp,
            changes=changes,
            outside_kind=OutsideKind.COUNT_DIFFERENCE,
        )
        count.posting = posted.posting
    expected = {line.lot_code: lots[line.lot_code].on_hand_base for line in found}
    for change in changes:
        expected[change.lot.code] -= change.qty_base  # `post` brought the lots along
    count.save(force_insert=True)
    CountLine.objects.bulk_create(
        [
            CountLine(
                count=count,
                lot=lots[line.lot_code],
                expected_base=expected[line.lot_code],
                found_base=line.found_base,
            )
            for line in found
        ]
    )
    rejoin_holds([change.lot for change in changes if expected[change.lot.code] == 0], stamp)
    touched = [lot for lot in lots.values() if lot.touched_at < stamp.at]
    Lot.objects.filter(pk__in=[lot.pk for lot in touched]).update(touched_at=stamp.at)
    return count


@operation
def reverse_count(*, count_code: str, stamp: Stamp) -> Posted:
    """Undo a count that was wrong, wholly: its lines no longer say what was found.

    Raises:
        NotFoundError: no such count.
        ReasonMissingError: no reason.
        NotReversibleError: it changed nothing, was undone before, a lot was counted since, or one
            of which it found more was used or moved since.
        LotShippedError: a lot left with its box.
        TooEarlyError, BooksClosedError: it cannot have been then.
    """
    stamp.refuse_no_reason()
    count = count_of(count_code)
    if count.posting is None:
        raise NotReversibleError(
            "This count changed nothing. Count again instead.", count=count.code
        )
    posted = reverse_posting(count.posting, stamp)
    refuse_shipped_in_box(
        Lot.objects.filter(
            movements__posting=posted.posting,
            movements__qty_base__gt=0,
            movements__qty_base=F("on_hand_base"),  # it held nothing before
        )
    )
    return posted


def _changes(found: Sequence[Found], lots: dict[str, Lot]) -> list[Change]:
    differing = [line for line in found if line.found_base != lots[line.lot_code].on_hand_base]
    into = inflows(
        [lots[line.lot_code] for line in differing if lots[line.lot_code].on_hand_base == 0]
    )
    changes = []
    for line in differing:
        lot = lots[line.lot_code]
        qty_in, value_in = into.get(lot.pk, (0, 0))
        changes.append(
            Change(
                lot,
                line.found_base - lot.on_hand_base,
                count_difference_micro(
                    found_base=line.found_base,
                    on_hand_base=lot.on_hand_base,
                    value_micro=lot.value_micro,
                    inflow_base=qty_in,
                    inflow_micro=value_in,
                ),
            )
        )
    return changes


def _refuse_changed(found: Sequence[Found], lots: dict[str, Lot]) -> None:
    changed = [
        {
            "lot": line.lot_code,
            "expected_base": line.expected_base,
            "on_hand_base": lots[line.lot_code].on_hand_base,
        }
        for line in found
        if line.expected_base is not None and line.expected_base != lots[line.lot_code].on_hand_base
    ]
    if changed:
        raise CountChangedError(
            "These lots changed while they were counted. Look at them again.", lots=changed
        )
