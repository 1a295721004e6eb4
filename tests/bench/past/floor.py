"""What stands in the made-up shop before its first day: the standing lists of the demo."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from shutil import copy
from tempfile import TemporaryDirectory
from typing import Final

from django.core.management import call_command
from django.test import override_settings
from django.utils import timezone

from batches.bills.selectors.sheets import BillSheet, current_sheets
from batches.packing.models import Customer
from batches.quality.models import CheckDefinition
from batches.quality.operations import create_definition
from batches.runs.models import ScrapReason
from inventory.catalog.models import Equipment, Item, Place, Supplier
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from shopfloor.roles import Role

DEMO: Final = Path(__file__).resolve().parents[3] / "fixtures" / "demo"
STANDING: Final = (
    *("places", "suppliers", "people", "models", "colorways", "items", "offers", "stages"),
    *("equipment", "scrap_reasons", "customers", "bills"),
)


@dataclass(frozen=True, slots=True)
class Floor:
    """Row numbers and bills of what stands.

    Attributes:
        sheets: The current bill of each item that is made, by item.
        chains: For each packed lure, the items to make one after the other, itself last.
        items: Code and storage place of each item, by its number.
        cavities: Parts of each mold and wheel.
        reasons: Scrap reasons of each stage.
        definitions: Checks of each stage.
    """

    sheets: Mapping[int, BillSheet]
    chains: Sequence[Sequence[int]]
    items: Mapping[int, tuple[str, int]]
    places: Mapping[str, int]
    equipment: Sequence[int]
    cavities: Sequence[int]
    reasons: Mapping[int, Sequence[int]]
    definitions: Mapping[int, Sequence[int]]
    suppliers: Sequence[int]
    customers: Sequence[int]
    owner_id: int
    benches: Sequence[int]
    packer_id: int


def enter_floor(*, model: str = "") -> Floor:
    """Enter the standing lists as a shop does, and read what the generator needs of them.

    Args:
        model: Enter the bills of this model's items only, and of what is mixed.
    """
    create_first_owner(username="owner", display_name="The owner", password=None, at=timezone.now())
    # Its GTINs are for examples, which the demo alone may have.
    with TemporaryDirectory() as folder, override_settings(SHOP_IS_DEMO=True):
        for name in STANDING:
            copy(DEMO / f"{name}.csv", folder)
        _keep_bills_of(model, Path(folder, "bills.csv"))
        call_command("import", folder, stdout=StringIO(), stderr=open(os.devnull, "w"))  # noqa: SIM115
    _enter_definitions()
    return read_floor()


def _enter_definitions() -> None:
    """A check for every defect that has a stage of its own."""
    owner = User.objects.get(username="owner")
    for reason in ScrapReason.objects.filter(stage__isnull=False).select_related("stage"):
        assert reason.stage is not None
        fields = {
            "name": reason.name, "stage": reason.stage.code, "kind": "pass_fail",
            "defect": reason.code, "how_many": "fixed", "fixed_pieces": 20, "accept_pieces": 2,
        }  # fmt: skip
        create_definition(code=reason.code, fields=fields, by=owner, at=timezone.now())


def _keep_bills_of(model: str, bills: Path) -> None:
    head, *lines = bills.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.startswith((model, "ADH-"))]
    bills.write_text("\n".join([head, *kept]), encoding="utf-8")


def read_floor() -> Floor:
    """What stands already."""
    sheets = {sheet.item.id: sheet for sheet in current_sheets()}
    used = {line.item.id for sheet in sheets.values() for line in sheet.taken}
    everywhere = Place.objects.order_by("pk")
    first = everywhere.values_list("pk", flat=True)[0]
    items = {item.pk: (item.code, item.storage_place_id or first) for item in Item.objects.all()}
    reasons: dict[int, list[int]] = {sheet.stage_id: [] for sheet in sheets.values()}
    for reason in ScrapReason.objects.order_by("pk"):
        for stage in reasons if reason.stage_id is None else [reason.stage_id]:
            reasons[stage].append(reason.pk)
    definitions: dict[int, list[int]] = {stage: [] for stage in reasons}
    for definition in CheckDefinition.objects.order_by("pk"):
        definitions[definition.stage_id].append(definition.pk)
    parts = Equipment.objects.filter(parent__isnull=False).order_by("pk")
    people = {
        role: list(User.objects.filter(role=role).order_by("pk").values_list("pk", flat=True))
        for role in (Role.OWNER, Role.BENCH, Role.PACKER)
    }
    return Floor(
        sheets=sheets,
        chains=[_chain(item, sheets) for item in sheets if item not in used],
        items=items,
        places=dict(everywhere.values_list("code", "pk")),
        equipment=list(
            Equipment.objects.filter(parent__isnull=True)
            .order_by("pk")
            .values_list("pk", flat=True)
        ),
        cavities=list(parts.values_list("pk", flat=True)),
        reasons=reasons,
        definitions=definitions,
        suppliers=list(Supplier.objects.order_by("pk").values_list("pk", flat=True)),
        customers=list(Customer.objects.order_by("pk").values_list("pk", flat=True)),
        owner_id=people[Role.OWNER][0],
        benches=people[Role.BENCH],
        packer_id=people[Role.PACKER][0],
    )


def _chain(item_id: int, sheets: Mapping[int, BillSheet]) -> list[int]:
    """What must be made for an item, first things first."""
    chain: list[int] = []
    for line in sheets[item_id].taken:
        if line.item.id in sheets:
            chain += [made for made in _chain(line.item.id, sheets) if made not in chain]
    return [*chain, item_id]
