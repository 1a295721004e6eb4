"""Use of items a day, out of the ledger.

Use is what was taken to make or mix something. Disposals, counts, returns, moves and shipments are
not, and a reversed posting never happened.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final, cast

from django.db.models import (
    BigIntegerField,
    Case,
    DateTimeField,
    Exists,
    F,
    FilteredRelation,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Cast

from inventory.catalog.models import Item
from inventory.stock.models import Lot, Movement, Posting, PostingKind
from shopfloor.days import day_start, shop_day

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

USE_KINDS: Final = (PostingKind.MADE, PostingKind.MIXED)

_CHUNK: Final = 20_000  # rows held as Python objects at a time


@dataclass(frozen=True, slots=True, eq=False)
class Use:
    """Use of items over a window that ends the day before it is looked at.

    Attributes:
        first_on: The window's first day.
        base_by_day: (items, days) int64 base units, >= 0, oldest day first.
        row_of: The row of an item, by item id.
        history_from: The first day of an item's history, by item id; it may be today.
    """

    first_on: date
    base_by_day: npt.NDArray[np.int64]
    row_of: dict[int, int]
    history_from: dict[int, date]

    def of(self, item_id: int) -> npt.NDArray[np.int64]:
        """The days since the item first moved; none while it never did, or only today."""
        days: npt.NDArray[np.int64] = self.base_by_day[self.row_of[item_id]]
        began_on = self.history_from.get(item_id)
        start = len(days) if began_on is None else (began_on - self.first_on).days
        return days[start:]


def use_by_day(*, item_ids: Sequence[int], on: date, window_days: int) -> Use:
    """Use of our lots on the shop's days before `on`, which is not over yet.

    An item's net use in a posting counts: mixing two lots of resin to one lot of the same resin
    uses none. Four statements; memory for items x days, and the postings of the window.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    assert window_days >= 1
    first_on = on - timedelta(days=window_days)
    ids = np.array(sorted(item_ids), dtype=np.int64)
    found = np.zeros((len(ids), window_days), dtype=np.int64)
    postings, days = _postings(first_on, window_days)
    if len(postings):
        for chunk in _chunks(_net_use(item_ids, int(postings[0]), int(postings[-1]))):
            posting, item, net = chunk.T
            at = np.minimum(np.searchsorted(postings, posting), len(postings) - 1)
            is_use = postings[at] == posting
            rows = np.searchsorted(ids, item[is_use])
            np.add.at(found, (rows, days[at[is_use]]), -net[is_use])
    return Use(
        first_on=first_on,
        base_by_day=found,
        row_of={item_id: row for row, item_id in enumerate(ids.tolist())},
        history_from=_began_on(item_ids, first_on),
    )


def _postings(first_on: date, window_days: int) -> tuple[Any, Any]:
    """Ids of the window's postings that use something, ascending, and the day of each.

    The days are told apart here by the shop's own calendar: a day may have 23 or 25 hours, and
    begin at a quarter past in UTC.
    """
    import numpy as np  # noqa: PLC0415 - as above

    starts = [day_start(first_on + timedelta(days=each)) for each in range(window_days + 1)]
    rows = (
        Posting.objects.filter(
            kind__in=USE_KINDS,
            reversed_by__isnull=True,
            at__gte=starts[0],
            at__lt=starts[-1],
        )
        .order_by("pk")
        .values_list("pk", "at")
        .iterator(_CHUNK)
    )
    plain = np.fromiter(
        ((pk, at.timestamp()) for pk, at in rows), dtype=[("pk", np.int64), ("at", np.float64)]
    )
    bounds = [start.timestamp() for start in starts]
    return plain["pk"].copy(), np.searchsorted(bounds, plain["at"], side="right") - 1


class _Whole(Cast):
    """Whole numbers, which PostgreSQL adds up to decimals, as the driver has them.

    To make each one whole again took a tenth of the whole list.
    """

    convert_value = staticmethod(cast("Any", Cast)._convert_value_noop)


def _net_use(item_ids: Sequence[int], first: int, last: int) -> QuerySet[Any, tuple[Any, ...]]:
    """Posting, item and net change below zero of our lots, over a range of postings of any kind."""
    moved = Movement.objects.filter(posting__gte=first, posting__lte=last)
    # Told where they begin, PostgreSQL leaves out the lots that were used up long ago.
    oldest = moved.aggregate(lot=Min("lot_id"))["lot"]
    return (
        moved.alias(ours=FilteredRelation("lot", condition=Q(lot__pk__gte=oldest, lot__owner="")))
        # Plus nothing: SQLite would begin with all lots that these items ever had.
        .alias(item=F("ours__item_id") + 0)
        .filter(lot__gte=oldest, item__in=item_ids)
        .order_by()
        .values("posting_id", "ours__item_id")
        .annotate(net=_Whole(Sum("qty_base"), BigIntegerField()))
        .filter(net__lt=0)
        .values_list("posting_id", "ours__item_id", "net")
    )


def _chunks(rows: QuerySet[Any, tuple[Any, ...]]) -> Iterator[npt.NDArray[np.int64]]:
    """The rows as arrays of (rows, columns)."""
    import numpy as np  # noqa: PLC0415 - as above

    held: list[tuple[Any, ...]] = []
    for row in rows.iterator(_CHUNK):
        held.append(row)
        if len(held) == _CHUNK:
            yield np.array(held, dtype=np.int64)
            held = []
    if held:
        yield np.array(held, dtype=np.int64)


def _began_on(item_ids: Sequence[int], first_on: date) -> dict[int, date]:
    """The shop's day on which the first lot of ours came in, by item id; `first_on` if earlier.

    A lot whose birth was reversed was never there. Of an item with a lot from before the window no
    other is looked at, so a long past costs nothing.
    """
    window_start = day_start(first_on)
    undone = Movement.objects.filter(
        lot=OuterRef("pk"),
        qty_base__lt=0,
        posting__reverses__isnull=False,
        posting__reverses__at=OuterRef("born_at"),
    )
    lots = Lot.objects.filter(~Exists(undone), item=OuterRef("pk"), owner="")
    first = lots.order_by("born_at").values("born_at")[:1]
    firsts = (
        Item.objects.filter(pk__in=item_ids)
        .annotate(
            first_at=Case(
                When(Exists(lots.filter(born_at__lt=window_start)), then=Value(window_start)),
                default=Subquery(first),
                output_field=DateTimeField(),
            )
        )
        .filter(first_at__isnull=False)
        .values_list("pk", "first_at")
    )
    return {item_id: shop_day(first_at) for item_id, first_at in firsts}
