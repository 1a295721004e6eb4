"""Why an item's requirements say what they say, with amounts in the unit people see."""

from __future__ import annotations

from typing import Final

from batches.planning.rules.methods import NO_LIMIT, LotSizing
from batches.planning.selectors.leads import Lead, LeadSource
from batches.planning.selectors.planning import WEEKS, Planning
from batches.planning.selectors.rows import RequirementRow
from batches.planning.selectors.sizing import ItemSizing
from inventory.catalog.selectors import measure_of
from shopfloor.money import money_text
from shopfloor.units import display

_LEAD: Final = {
    LeadSource.SET: "as it was set by hand",
    LeadSource.RECEIVED: "as received orders took",
    LeadSource.QUOTED: "as the supplier quotes",
    LeadSource.BATCHES: "as its latest batches took from start to end",
    LeadSource.STAGE: "as the latest batches of its stage took; none of its own ended yet",
    LeadSource.MIXING: "a mixture is made when it is used",
    LeadSource.UNKNOWN: "taken because nobody said and nothing tells",
}
_SIZING: Final = {
    LotSizing.LOT_FOR_LOT: "Ordered lot for lot: each week what it needs",
    LotSizing.FIXED: "Ordered in multiples of a fixed lot",
    LotSizing.PERIOD: "Ordered for a number of weeks",
    LotSizing.WAGNER_WHITIN: "Ordered at the least cost of ordering and keeping (Wagner-Whitin)",
    LotSizing.SILVER_MEAL: "Ordered for as long as the cost a week falls (Silver-Meal)",
    LotSizing.PART_PERIOD: "Ordered until keeping costs what an order does (part-period)",
}


def why(planned: Planning, place: int, row: RequirementRow) -> list[str]:
    """The figures, then how they came about. No statement."""
    return [
        _needed(row),
        _held(row),
        *_spoiled(planned, place, row),
        *_made(planned, row),
        _lead(planned.leads[place]),
        *_sized(planned.sizings[place], row),
        *(action.detail for action in row.actions),
    ]


def _shown(row: RequirementRow, qty_base: int) -> str:
    return display(qty_base, row.item.display_unit, measure_of(row.item))


def _needed(row: RequirementRow) -> str:
    said = f"{_shown(row, row.gross_base)} are needed in {WEEKS} weeks"
    if row.wanted_past_base:
        said += f", {_shown(row, row.wanted_past_base)} of it since before this week"
    return f"{said}."


def _held(row: RequirementRow) -> str:
    parts = [f"{_shown(row, row.on_hand_base)} usable on hand"]
    if row.quarantined_base:
        parts.append(f"{_shown(row, row.quarantined_base)} waiting for a test")
    if row.coming_base:
        parts.append(f"{_shown(row, row.coming_base)} ordered or being made")
    left = f"{_shown(row, row.planned_base)} must be {'made' if row.is_made else 'ordered'} besides"
    safety = row.safety_stock_base
    kept = f", with {_shown(row, safety)} kept as safety stock" if safety else ""
    return f"{', '.join(parts)}; {left}{kept}."


def _spoiled(planned: Planning, place: int, row: RequirementRow) -> list[str]:
    spoiled_base = int(planned.found.spoiled_base[place, -1])
    if not spoiled_base:
        return []
    return [f"{_shown(row, spoiled_base)} on hand expires before anything needs it."]


def _made(planned: Planning, row: RequirementRow) -> list[str]:
    bill, good = planned.bills.get(row.item.pk), row.good
    if bill is None or good is None or good.share == bill.good == 1:
        return []
    by = {
        "set": "As it was set by hand,",
        "runs": f"By its {good.runs} latest runs, where its bill has {float(bill.good):.1%},",
        "bill": "By its bill",
    }[good.source]
    said = f"{float(good.share):.1%} of the pieces started at {bill.stage_name} come out good"
    return [f"{by} {said}; the rest is started on top."]


def _lead(lead: Lead) -> str:
    weeks = "the same week" if not lead.weeks else f"{lead.weeks} weeks of the plan"
    return f"It takes {lead.days} days, {weeks}: {_LEAD[lead.source]}."


def _sized(sizing: ItemSizing, row: RequirementRow) -> list[str]:
    said = _SIZING[sizing.method]
    if sizing.method is LotSizing.FIXED:
        said += f", {_shown(row, sizing.lot_base)}"
    elif sizing.method is not LotSizing.LOT_FOR_LOT:
        said += _costs(sizing)
    said += ", as it was set by hand." if sizing.is_set else "."
    found = [said]
    if sizing.pack_base > 1:
        packs = _shown(row, sizing.pack_base)
        found.append(f"Whole packs of {packs}, at least {_shown(row, sizing.least_base)}.")
    if sizing.weeks_max < NO_LIMIT and sizing.method not in {
        LotSizing.LOT_FOR_LOT,
        LotSizing.FIXED,
    }:
        found.append(f"An order serves at most {sizing.weeks_max} weeks.")
    return found


def _costs(sizing: ItemSizing) -> str:
    if not sizing.keeping_micro:
        return "; what keeping it costs is not known, so each week what it needs"
    return f"; an order costs {money_text(sizing.order_cost_micro)}"
