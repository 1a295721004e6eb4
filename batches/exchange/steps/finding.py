"""What was found on pieces: checks of the past, and complaints."""

from __future__ import annotations

from collections.abc import Sequence

from batches.exchange.rules.lists import LotUsed
from batches.exchange.rules.reading import Row
from batches.exchange.selectors.made import lot_of_entry, made_lot_ids
from batches.exchange.steps.rowing import Importing, refusals_of
from batches.packing.steps.complaining import ComplaintDraft, add_complaint
from batches.quality.steps.checking import CheckDraft, ResultDraft, record_check
from inventory.stock.models import Lot
from shopfloor.errors import InvalidInputError, NotFoundError


def post_check(rows: Sequence[Row], importing: Importing) -> None:
    """One test; a failed one holds what it is of."""
    (row,) = rows
    with refusals_of(row):
        draft = CheckDraft(
            definition_code=row["check"],
            results=[
                ResultDraft(each.tested, each.failed, each.value, each.equipment)
                for each in row["results"]
            ],
            **_tested(row),
        )
        record_check(draft, importing.stamp(row["at"], row["reason"] or ""))


def _tested(row: Row) -> dict[str, str]:
    used: LotUsed = row["lot"]
    if used.by == "lot":
        return {"lot_code": used.code}
    if row["entry_at"] is None:
        return {"batch_code": used.code}
    lot_code = lot_of_entry(used.code, row["entry_at"], used.grade)
    if lot_code is None:
        raise NotFoundError("No entry of this batch was done then.", batch=used.code)
    return {"lot_code": lot_code}


def post_complaint(rows: Sequence[Row], importing: Importing) -> None:
    """One complaint."""
    (row,) = rows
    with refusals_of(row):
        draft = ComplaintDraft(
            defect_code=row["defect"],
            pieces=row["pieces"],
            told_on=row["told_on"],
            customer_code=row["customer"] or "",
            box_code=row["box"] or "",
            lot_code=_complained_of(row["lot"]) if row["lot"] else "",
            item_code=row["item"] or "",
            model_code=row["model"] or "",
            bought_first_on=row["bought_first_on"],
            bought_last_on=row["bought_last_on"],
            note=row["note"] or "",
        )
        add_complaint(draft, importing.stamp())


def _complained_of(used: LotUsed) -> str:
    if used.by == "lot":
        return used.code
    codes = list(Lot.objects.filter(pk__in=made_lot_ids(used.code, used.grade)).values_list("code"))
    if len(codes) != 1:
        raise InvalidInputError(
            "That batch did not make one lot. Name the lot that left, or its box.",
            batch=used.code,
            lots=[code for (code,) in codes],
        )
    return codes[0][0]
