"""What the shop is: people, models, places, equipment, suppliers, items, offers, stages, bills."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from batches.bills.models import LineRole, Stage
from batches.bills.selectors.amounts import PerAmount
from batches.bills.selectors.sheets import sheet_items
from batches.bills.steps.lines import AlternativeDraft, LineDraft, read_lines
from batches.bills.steps.revisions import add_bill, add_revision, release_revision
from batches.bills.steps.stages import add_stage
from batches.exchange.rules.reading import Row
from batches.exchange.rules.standing import CHECK_DEFINITIONS
from batches.exchange.steps.rowing import Importing, amount_in, documents, filled, refusals_of
from batches.packing.models import Customer
from batches.quality.steps.definitions import add_definition
from batches.runs.models import ScrapReason
from inventory.catalog.steps import (
    PriceBreak,
    add_colorway,
    add_equipment,
    add_item,
    add_model,
    add_offer,
    add_place,
    add_supplier,
)
from inventory.catalog.steps.rows import refuse_unfit
from shopfloor.audit import audit_change
from shopfloor.models import User
from shopfloor.units import UNITS

_ITEM_COLUMNS = {
    "name": "name",
    "kind": "kind",
    "model": "model",
    "colorway": "colorway",
    "piece_mass_mg": "piece_mass_mg",
    "density_mg_per_ul": "density_mg_per_ul",
    "shelf_life_days": "shelf_life_days",
    "made_life_minutes": "made_life_minutes",
    "opened_life_minutes": "opened_life_minutes",
    "place": "storage_place",
    "arrives": "arrives",
    "hazard_text": "hazard_text",
    "hazard_pictograms": "hazard_pictograms",
    "gtin": "gtin",
}


def post_standing(importing: Importing) -> None:
    """Everything that stands before the first lot does. A few statements a row."""
    _people(importing)
    _simple(importing, "models", add_model, ("name", "length_mm", "painted_area_mm2"))
    _simple(importing, "colorways", add_colorway, ("name",))
    _simple(importing, "places", add_place, ("name", "kind"))
    _equipment(importing)
    _simple(importing, "suppliers", add_supplier, ("name", "contact"))
    _items(importing)
    _offers(importing)
    _stages(importing)
    _scrap_reasons(importing)
    _check_definitions(importing)
    _customers(importing)
    _bills(importing)


def _simple(importing: Importing, sheet: str, add: Any, names: Sequence[str]) -> None:
    for row in importing.each(sheet):
        with refusals_of(row):
            fields = filled(row, {name: name for name in names})
            add(code=row["code"], fields=fields, by=importing.by, at=importing.now)


def _people(importing: Importing) -> None:
    for row in importing.each("people"):
        person = User(
            username=row["username"],
            display_name=row["display_name"],
            role=row["role"],
            created_at=importing.now,
        )
        person.set_unusable_password()
        person.save(force_insert=True)
        audit_change(by=importing.by, at=importing.now, row=person, before=None)


def _equipment(importing: Importing) -> None:
    """Wholes before parts, whichever way they stand in the sheet."""
    rows = list(importing.each("equipment"))
    parts = {"mold": "cavity", "wheel": "station"}
    for row in sorted(rows, key=lambda row: row["part_of"] is not None):
        with refusals_of(row):
            add_equipment(
                code=row["code"],
                name=row["name"],
                kind=row["kind"],
                parent_code=row["part_of"] or "",
                number=row["number"],
                part_kind=parts[row["kind"]] if row["parts"] else "",
                part_count=row["parts"] or 0,
                by=importing.by,
                at=importing.now,
            )


def _items(importing: Importing) -> None:
    for row in importing.each("items"):
        with refusals_of(row):
            fields: Any = {
                **filled(row, _ITEM_COLUMNS),
                "display_unit": row["unit"],
                "dimension": str(UNITS[row["unit"]].dimension),
            }
            add_item(code=row["code"], fields=fields, by=importing.by, at=importing.now)


def _offers(importing: Importing) -> None:
    for row in importing.each("offers"):
        pack = amount_in(row)
        assert pack is not None
        fields: Any = filled(
            row,
            {
                "supplier_item_number": "supplier_item_number",
                "packs_min": "packs_min",
                "lead_time_days": "lead_time_days",
                "preferred": "is_preferred",
            },
        )
        fields["prices"] = [PriceBreak(*pair) for pair in (row["prices"] or {}).items()]
        with refusals_of(row):
            add_offer(
                supplier_code=row["supplier"],
                item_code=row["item"],
                pack=pack,
                fields=fields,
                by=importing.by,
                at=importing.now,
            )


def _stages(importing: Importing) -> None:
    for row in importing.each("stages"):
        fields: Any = filled(row, {"name": "name", "position": "position", "place": "place"})
        fields["is_mixing"] = bool(row["mixing"])
        with refusals_of(row):
            add_stage(code=row["code"], fields=fields, by=importing.by, at=importing.now)


def _scrap_reasons(importing: Importing) -> None:
    stages = {stage.code: stage for stage in Stage.objects.all()}
    for row in importing.each("scrap_reasons"):
        with refusals_of(row):
            reason = ScrapReason(code=row["code"], name=row["name"], stage=stages.get(row["stage"]))
            refuse_unfit(reason)
            reason.save(force_insert=True)
            audit_change(by=importing.by, at=importing.now, row=reason, before=None)


def _check_definitions(importing: Importing) -> None:
    names = [column.name for column in CHECK_DEFINITIONS.columns if column.name != "code"]
    for row in importing.each("check_definitions"):
        with refusals_of(row):
            add_definition(
                code=row["code"],
                fields=filled(row, {name: name for name in names}),
                by=importing.by,
                at=importing.now,
            )


def _customers(importing: Importing) -> None:
    for row in importing.each("customers"):
        with refusals_of(row):
            customer = Customer(code=row["code"], name=row["name"], address=row["address"] or "")
            refuse_unfit(customer)
            customer.save(force_insert=True)
            audit_change(by=importing.by, at=importing.now, row=customer, before=None)


def _bills(importing: Importing) -> None:
    """All drafts before the first release: a line may name an item whose bill comes later."""
    bills = documents(importing.each("bills"))
    for rows in bills:
        head = rows[0]
        with refusals_of(head):
            item = sheet_items([head["item"]])[head["item"]]
            bill = add_bill(item=item, stage_code=head["stage"], by=importing.by, at=importing.now)
            drafts = [_line(row) for row in rows]
            add_revision(
                bill,
                scrap_ratio=head["scrap_ratio"] or Decimal(0),
                note="",
                lines=read_lines(drafts, item=item, is_mixing=bill.stage.is_mixing),
                by=importing.by,
                at=importing.now,
            )
    for rows in bills:
        with refusals_of(rows[0]):
            release_revision(item_code=rows[0]["item"], number=1, by=importing.by, at=importing.now)


def _line(row: Row) -> LineDraft:
    takes, makes = amount_in(row), amount_in(row, "makes", "makes_unit")
    per_amount = PerAmount(takes, makes) if takes is not None and makes is not None else None
    return LineDraft(
        item_code=row["takes"],
        role=LineRole(row["role"] or LineRole.TAKEN),
        per_piece=takes if per_amount is None else None,
        per_amount=per_amount,
        per_batch=amount_in(row, "batch_amount", "batch_unit"),
        loss_ratio=row["loss_ratio"] or Decimal(0),
        value_ratio=row["value_ratio"] or Decimal(0),
        alternatives=tuple(
            AlternativeDraft(item, ratio) for item, ratio in (row["alternatives"] or {}).items()
        ),
    )
