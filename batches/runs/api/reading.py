"""From a body to what the operations of runs take: amounts in base units of the right item."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from batches.runs.selectors.proposals import ItemAmount, batch_measure, items_qty_base
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import (
    ByProductWeighed,
    EntryDraft,
    GoodTally,
    LotUse,
    ScrapTally,
)
from inventory.stock.selectors.amounts import Wanted, lots_qty_base
from shopfloor.fields import Amount
from shopfloor.units import Measure, to_base


def batch_plan(body: Mapping[str, Any]) -> BatchPlan:
    """The plan in a body."""
    planned_base = items_qty_base([ItemAmount(body["item"], *_quantity(body))])[0]
    return BatchPlan(
        item_code=body["item"],
        planned_base=planned_base,
        planned_on=body["planned_on"],
        revision=body["revision"],
        rework_stage=body["rework_stage"],
        code=body["code"],
        note=body["note"],
    )


def entry_draft(batch_code: str, body: Mapping[str, Any]) -> EntryDraft:
    """The entry in a body. At most three statements, whatever the number of rows."""
    measure = batch_measure(batch_code)
    return EntryDraft(
        batch_code=batch_code,
        good=[
            GoodTally(
                qty_base=_qty_base(row, measure),
                grade=row["grade"],
                equipment_code=row["equipment"],
            )
            for row in body["good"]
        ],
        scrap=[
            ScrapTally(
                qty_base=_qty_base(row, measure),
                reason_code=row["scrap_reason"],
                equipment_code=row["equipment"],
            )
            for row in body["scrap"]
        ],
        lots=_uses(body["lots"]),
        by_products=_by_products(body["by_products"]),
        equipment_codes=body["equipment"],
        factors={row["name"]: row["value"] for row in body["factors"]},
        minutes=body["minutes"],
        done_by=body["done_by"],
        override_reason=body["override_reason"],
    )


def _quantity(row: Mapping[str, Any]) -> Amount:
    """Pieces are an amount too: of a mixture they are refused, or weighed by its piece mass."""
    return Amount(Decimal(row["pieces"]), "each") if "pieces" in row else row["quantity"]


def _qty_base(row: Mapping[str, Any], measure: Measure) -> int:
    quantity = _quantity(row)
    return to_base(amount=quantity.amount, unit=quantity.unit, item=measure)


def _uses(rows: Sequence[Mapping[str, Any]]) -> list[LotUse]:
    exact = [Wanted(row["lot"], *row["quantity"]) for row in rows if "quantity" in row]
    amounts = iter(lots_qty_base(exact) if exact else ())
    return [LotUse(row["lot"], next(amounts) if "quantity" in row else None) for row in rows]


def _by_products(rows: Sequence[Mapping[str, Any]]) -> list[ByProductWeighed]:
    wanted = [ItemAmount(row["item"], *row["quantity"]) for row in rows]
    amounts = items_qty_base(wanted) if wanted else []
    return [
        ByProductWeighed(row.item_code, qty_base)
        for row, qty_base in zip(wanted, amounts, strict=True)
    ]
