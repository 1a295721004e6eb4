"""Forecasts of the items of a list, all of one length of history at once. No query."""

from __future__ import annotations

from collections.abc import Mapping

from inventory.reorder.rules import (
    WEEKS_LEAST,
    Forecast,
    ReorderInputs,
    forecasts,
    lead_time,
    weekly,
)


def foreseen(inputs: Mapping[int, ReorderInputs]) -> dict[int, Forecast]:
    """Forecast of each item, by its id; those with too short a history or no use are left out."""
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    of_length: dict[int, list[int]] = {}
    for item_id, given in inputs.items():
        weeks = len(given.use_base_by_day) // 7
        if weeks >= WEEKS_LEAST and given.use_base_by_day.any():
            of_length.setdefault(weeks, []).append(item_id)
    found: dict[int, Forecast] = {}
    for weeks, item_ids in of_length.items():
        use = np.stack([inputs[item_id].use_base_by_day[-weeks * 7 :] for item_id in item_ids])
        horizon = [_horizon_weeks(inputs[item_id]) for item_id in item_ids]
        made = forecasts(weekly(use), np.array(horizon))
        found |= {item_id: made.of(row) for row, item_id in enumerate(item_ids)}
    return found


def _horizon_weeks(given: ReorderInputs) -> float:
    lead, _ = lead_time(given.lead_times_days, given.lead_time_quoted_days)
    return (lead.mean + given.review_days) / 7
