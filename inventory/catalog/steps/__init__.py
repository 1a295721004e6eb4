"""Writes of the catalog that need an open transaction: an import is made of them too."""

from inventory.catalog.steps.gtins import GtinAsk, allot_gtins
from inventory.catalog.steps.items import ItemFields, add_item, edit_item
from inventory.catalog.steps.offers import OfferFields, PriceBreak, add_offer, edit_offer
from inventory.catalog.steps.places import (
    PARTS_MAX,
    ColorwayFields,
    EquipmentFields,
    ModelFields,
    PlaceFields,
    SupplierFields,
    add_colorway,
    add_equipment,
    add_model,
    add_place,
    add_supplier,
    edit_colorway,
    edit_equipment,
    edit_model,
    edit_place,
    edit_supplier,
)

__all__ = [
    "PARTS_MAX",
    "ColorwayFields",
    "EquipmentFields",
    "GtinAsk",
    "ItemFields",
    "ModelFields",
    "OfferFields",
    "PlaceFields",
    "PriceBreak",
    "SupplierFields",
    "add_colorway",
    "add_equipment",
    "add_item",
    "add_model",
    "add_offer",
    "add_place",
    "add_supplier",
    "allot_gtins",
    "edit_colorway",
    "edit_equipment",
    "edit_item",
    "edit_model",
    "edit_offer",
    "edit_place",
    "edit_supplier",
]
