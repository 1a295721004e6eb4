"""Business events of the catalog. Nothing is deleted: what is no longer used is not active."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from inventory.catalog import steps
from inventory.catalog.models import (
    Colorway,
    Equipment,
    Item,
    LureModel,
    Offer,
    Place,
    Supplier,
)
from inventory.catalog.steps import (
    ColorwayFields,
    EquipmentFields,
    GtinAsk,
    ItemFields,
    ModelFields,
    OfferFields,
    PlaceFields,
    SupplierFields,
)
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def create_model(*, code: str, fields: ModelFields, by: User, at: datetime) -> LureModel:
    """Enter a model; raises as `steps.add_model`."""
    return steps.add_model(code=code, fields=fields, by=by, at=at)


@operation
def change_model(*, code: str, fields: ModelFields, by: User, at: datetime) -> LureModel:
    """Change a model; raises as `steps.edit_model`."""
    return steps.edit_model(code=code, fields=fields, by=by, at=at)


@operation
def create_colorway(*, code: str, fields: ColorwayFields, by: User, at: datetime) -> Colorway:
    """Enter a colorway; raises as `steps.add_colorway`."""
    return steps.add_colorway(code=code, fields=fields, by=by, at=at)


@operation
def change_colorway(*, code: str, fields: ColorwayFields, by: User, at: datetime) -> Colorway:
    """Change a colorway; raises as `steps.edit_colorway`."""
    return steps.edit_colorway(code=code, fields=fields, by=by, at=at)


@operation
def create_place(*, code: str, fields: PlaceFields, by: User, at: datetime) -> Place:
    """Enter a place; raises as `steps.add_place`."""
    return steps.add_place(code=code, fields=fields, by=by, at=at)


@operation
def change_place(*, code: str, fields: PlaceFields, by: User, at: datetime) -> Place:
    """Change a place; raises as `steps.edit_place`."""
    return steps.edit_place(code=code, fields=fields, by=by, at=at)


@operation
def create_supplier(*, code: str, fields: SupplierFields, by: User, at: datetime) -> Supplier:
    """Enter a supplier; raises as `steps.add_supplier`."""
    return steps.add_supplier(code=code, fields=fields, by=by, at=at)


@operation
def change_supplier(*, code: str, fields: SupplierFields, by: User, at: datetime) -> Supplier:
    """Change a supplier; raises as `steps.edit_supplier`."""
    return steps.edit_supplier(code=code, fields=fields, by=by, at=at)


@operation
def create_equipment(
    *,
    code: str,
    name: str,
    kind: str,
    by: User,
    at: datetime,
    parent_code: str = "",
    number: int | None = None,
    part_kind: str = "",
    part_count: int = 0,
) -> Equipment:
    """Enter equipment and its parts; arguments and refusals as `steps.add_equipment`."""
    return steps.add_equipment(
        code=code,
        name=name,
        kind=kind,
        by=by,
        at=at,
        parent_code=parent_code,
        number=number,
        part_kind=part_kind,
        part_count=part_count,
    )


@operation
def change_equipment(*, code: str, fields: EquipmentFields, by: User, at: datetime) -> Equipment:
    """Change equipment; raises as `steps.edit_equipment`."""
    return steps.edit_equipment(code=code, fields=fields, by=by, at=at)


@operation
def create_item(*, code: str, fields: ItemFields, by: User, at: datetime) -> Item:
    """Enter an item; raises as `steps.add_item`."""
    return steps.add_item(code=code, fields=fields, by=by, at=at)


@operation
def allot_gtins(*, asks: Sequence[GtinAsk], by: User, at: datetime) -> list[Item]:
    """Give items GTINs of the shop's own prefix; raises as `steps.allot_gtins`."""
    return steps.allot_gtins(asks, by=by, at=at)


@operation
def change_item(*, code: str, fields: ItemFields, by: User, at: datetime) -> Item:
    """Change an item; raises as `steps.edit_item`."""
    return steps.edit_item(code=code, fields=fields, by=by, at=at)


@operation
def create_offer(
    *,
    supplier_code: str,
    item_code: str,
    pack: Amount,
    fields: OfferFields,
    by: User,
    at: datetime,
) -> Offer:
    """Enter what a supplier offers; arguments and refusals as `steps.add_offer`."""
    return steps.add_offer(
        supplier_code=supplier_code, item_code=item_code, pack=pack, fields=fields, by=by, at=at
    )


@operation
def change_offer(
    *,
    supplier_code: str,
    item_code: str,
    pack: Amount,
    fields: OfferFields,
    by: User,
    at: datetime,
) -> Offer:
    """Change an offer; arguments and refusals as `steps.edit_offer`."""
    return steps.edit_offer(
        supplier_code=supplier_code, item_code=item_code, pack=pack, fields=fields, by=by, at=at
    )
