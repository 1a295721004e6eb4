"""The reorder list: every figure of every item in a fixed number of statements."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from inventory.catalog.models import Item
from inventory.purchasing.selectors import (
    ToCome,
    lead_times_days,
    on_order_base,
    still_to_come,
)
from inventory.reorder.errors import no_advice
from inventory.reorder.models import ReorderPolicy
from inventory.reorder.rules import (
    HOLDING_RATIO_PER_YEAR_DEFAULT,
    ORDER_COST_MICRO_DEFAULT,
    REVIEW_DAYS_DEFAULT,
    SERVICE_DEFAULT,
    SERVICE_LEVEL_DEFAULT,
    ReorderInputs,
    Service,
    first_fault,
    lead_time,
    lost_base,
    use_per_day,
)
from inventory.reorder.selectors.buying import (
    LeadTimes,
    UsedOffer,
    is_watched,
    items,
    offers_used,
    watched_items,
)
from inventory.reorder.selectors.foreseen import foreseen
from inventory.reorder.selectors.listing import by_urgency
from inventory.reorder.selectors.rows import ReorderPage, ReorderRow, UseOfDay
from inventory.reorder.selectors.shelves import LotHeld, OnHand, lots_held, on_hand
from inventory.reorder.selectors.use import Use, use_by_day
from shopfloor.errors import NotFoundError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

WINDOW_DAYS_DEFAULT: Final = 730
"""Two years, so that a season can be told from chance."""

_MINUTES_PER_DAY: Final = 24 * 60

NOTHING_PROMISED: Final[Mapping[int, int]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is read of items beside their use; it may tell of others too.

    Attributes:
        offers: The offer each would be ordered by, by item id.
        ordered_base: What is still to come, by item id.
        received: Lead times.
        lots: What is on hand.
    """

    offers: Mapping[int, UsedOffer]
    ordered_base: Mapping[int, int]
    received: LeadTimes
    lots: Sequence[LotHeld]


def reorder_list(
    *,
    on: date,
    window_days: int = WINDOW_DAYS_DEFAULT,
    promised_base: Mapping[int, int] = NOTHING_PROMISED,
) -> list[ReorderRow]:
    """Every watched item, the most urgent first. At most nine statements.

    Amounts are those of now; the day decides what history is over, what has expired and the dates.

    Args:
        on: Today, the shop's day.
        window_days: Days of history before it, >= 1.
        promised_base: Base units spoken for, by item id: what the rooms above know of.
    """
    wanted = list(watched_items())
    rows, _ = _rows(wanted, on, window_days, promised_base, _known(wanted, on, still_to_come(on)))
    return by_urgency(rows)


def reorder_rows(wanted: Sequence[Item], *, on: date, known: Known) -> list[ReorderRow]:
    """Some items, watched or not, of which all but their use is read already. Four statements."""
    rows, _ = _rows(wanted, on, WINDOW_DAYS_DEFAULT, NOTHING_PROMISED, known)
    return rows


def reorder_row(*, item_id: int, on: date) -> ReorderRow:
    """One item that is known to stand, watched or not. At most nine statements."""
    wanted = [items().get(pk=item_id)]
    return reorder_rows(wanted, on=on, known=_known(wanted, on, still_to_come(on)))[0]


def reorder_page(
    *,
    code: str,
    on: date,
    window_days: int = WINDOW_DAYS_DEFAULT,
    promised_base: Mapping[int, int] = NOTHING_PROMISED,
) -> ReorderPage:
    """One item, watched or not, with every input. Nine statements.

    Raises:
        NotFoundError: no such item.
    """
    item = items().annotate(is_watched=is_watched()).filter(code=code.strip().upper()).first()
    if item is None:
        raise NotFoundError("No item has this code. Look at the list.", item=code)
    lines = still_to_come(on)
    rows, use = _rows([item], on, window_days, promised_base, _known([item], on, lines))
    days = use.of(item.pk)
    began_on = on - timedelta(days=len(days)) if len(days) else None
    return ReorderPage(
        row=rows[0],
        history_from=began_on,
        used=[
            UseOfDay(day=began_on + timedelta(days=at), qty_base=qty_base)
            for at, qty_base in enumerate(days.tolist())
            if began_on is not None and qty_base
        ],
        is_watched=item.is_watched,
        to_come=[line for line in lines if line.item_id == item.pk],
    )


def _known(wanted: Sequence[Item], on: date, lines: Sequence[ToCome]) -> Known:
    """Of some items. Three statements."""
    ids = [item.pk for item in wanted]
    return Known(
        offers=offers_used(ids),
        ordered_base=on_order_base(lines),
        received=LeadTimes(lead_times_days()),
        lots=lots_held(ids),
    )


def _rows(
    wanted: Sequence[Item],
    on: date,
    window_days: int,
    promised_base: Mapping[int, int],
    known: Known,
) -> tuple[list[ReorderRow], Use]:
    ids = [item.pk for item in wanted]
    shelves = on_hand(known.lots, item_ids=ids, on=on)
    use = use_by_day(item_ids=ids, on=on, window_days=window_days)
    rows = [
        _row(
            item=item,
            on=on,
            offer=known.offers.get(item.pk),
            stock=shelves[item.pk],
            use_base_by_day=use.of(item.pk),
            lead_times_days=known.received.days(item.pk, known.offers.get(item.pk)),
            on_order_base=known.ordered_base.get(item.pk, 0),
            promised_base=promised_base.get(item.pk, 0),
        )
        for item in wanted
    ]
    forecasts = foreseen({row.item.pk: row.inputs for row in rows if row.no_advice is None})
    return [row.advised(forecasts.get(row.item.pk)) for row in rows], use


def _row(
    *,
    item: Item,
    on: date,
    offer: UsedOffer | None,
    stock: OnHand,
    use_base_by_day: npt.NDArray[np.int64],
    lead_times_days: Sequence[int],
    on_order_base: int,
    promised_base: int,
) -> ReorderRow:
    policy = _effective(getattr(item, "reorder_policy", None))
    quoted_days = None if offer is None else offer.lead_time_days
    expiring_base = _expiring_base(
        stock, use_base_by_day, lead_times_days, quoted_days, policy["review_days"]
    )
    inputs = ReorderInputs(
        use_base_by_day=use_base_by_day,
        lead_times_days=lead_times_days,
        lead_time_quoted_days=quoted_days,
        on_hand_base=stock.usable_base + stock.quarantined_base - expiring_base,
        on_order_base=on_order_base,
        promised_base=promised_base,
        pack_base=1 if offer is None else offer.pack_base,
        packs_min=1 if offer is None else offer.packs_min,
        shelf_life_days=item.shelf_life_days,
        opened_life_days=_opened_life_days(item),
        price_breaks=() if offer is None else offer.price_breaks,
        **policy,
    )
    fault = first_fault(inputs)
    return ReorderRow(
        item=item,
        offer=offer,
        stock=stock,
        expiring_base=expiring_base,
        on=on,
        inputs=inputs,
        advice=None,
        no_advice=None if fault is None else no_advice(fault, item=item.code),
    )


def _effective(policy: ReorderPolicy | None) -> dict[str, Any]:
    """What a person set, and the shop's defaults for the rest."""
    defaults: dict[str, Any] = {
        "service": SERVICE_DEFAULT,
        "service_level": SERVICE_LEVEL_DEFAULT,
        "review_days": REVIEW_DAYS_DEFAULT,
        "order_cost_micro": ORDER_COST_MICRO_DEFAULT,
        "holding_ratio_per_year": HOLDING_RATIO_PER_YEAR_DEFAULT,
    }
    own = {name: getattr(policy, name, None) for name in defaults}
    set_by_hand = {name: value for name, value in own.items() if value not in {None, ""}}
    found = defaults | set_by_hand
    return {
        **found,
        "service": Service(found["service"]),
        "room_base": getattr(policy, "room_base", None),
        "order_value_max_micro": getattr(policy, "order_value_max_micro", None),
        "point_set_base": getattr(policy, "reorder_point_base", None),
    }


def _opened_life_days(item: Item) -> float | None:
    """Days an opened container of an item keeps; None when that does not matter."""
    minutes = item.opened_life_minutes
    return None if minutes is None else minutes / _MINUTES_PER_DAY


def _expiring_base(
    stock: OnHand,
    use_base_by_day: npt.NDArray[np.int64],
    lead_times_days: Sequence[int],
    quoted_days: int | None,
    review_days: int,
) -> int:
    """What of the stock will expire unused before an order placed at the next look is here.

    Nothing, as far as anybody can tell, without a history of use or a lead time.
    """
    is_lead_known = bool(lead_times_days) or quoted_days is not None
    if not stock.endings or not len(use_base_by_day) or not is_lead_known:
        return 0
    lead, _ = lead_time(lead_times_days, quoted_days)
    return lost_base(
        endings=stock.endings,
        mean_per_day_base=use_per_day(use_base_by_day).mean,
        within_days=lead.mean + review_days,
    )
