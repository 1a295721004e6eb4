"""Writes of items, inside an open transaction."""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import copy
from datetime import datetime
from decimal import Decimal
from typing import Any, Final, TypedDict

from django.conf import settings

from inventory.catalog.errors import DimensionFixedError, DuplicateGtinError, HazardCodeError
from inventory.catalog.models import Item, ItemGtin
from inventory.catalog.selectors import colorway, measure_of, model, place, refuse_out_of_use
from inventory.catalog.steps.rows import add_row, edit_row, lock_row, refuse_unfit
from shopfloor.codes.errors import RestrictedNumberError
from shopfloor.codes.gs1 import checked_gtin
from shopfloor.codes.gs1.numbers import DEMONSTRATION, is_demonstration, is_restricted
from shopfloor.models import User
from shopfloor.units import UNITS, Dimension, UnitMismatchError, UnknownUnitError

# GHS01 to GHS09: the pictogram codes of the UN's Globally Harmonized System, annex 1.
_PICTOGRAM: Final = re.compile(r"GHS0[1-9]")
_LOOK_UPS: Final = {"model": model, "colorway": colorway, "storage_place": place}


class ItemFields(TypedDict, total=False):
    """What a person may set of an item; a change names only what changes.

    A new item needs `name`, `kind`, `dimension` and `display_unit`. `model`, `colorway` and
    `storage_place` are codes. The hazard data come from the maker's safety data sheet, word for
    word: nothing here is derived from them, and nothing classifies a hazard.
    """

    name: str
    kind: str
    dimension: str
    display_unit: str
    model: str | None
    colorway: str | None
    storage_place: str | None
    piece_mass_mg: Decimal | None
    density_mg_per_ul: Decimal | None
    shelf_life_days: int | None
    made_life_minutes: int | None
    opened_life_minutes: int | None
    arrives: str
    hazard_text: str
    hazard_pictograms: Sequence[str]
    gtin: str
    is_active: bool


def add_item(*, code: str, fields: ItemFields, by: User, at: datetime) -> Item:
    """Enter an item. Three statements, one more for each thing it points at and for a GTIN.

    Raises:
        OwnCodeError, DuplicateCodeError, DuplicateGtinError: its code or GTIN.
        NotFoundError, NotActiveError: its model, colorway or storage place.
        UnknownUnitError, UnitMismatchError: its display unit.
        MeasureError, HazardCodeError, Gs1NumberError, CheckDigitError, RestrictedNumberError: as
            named.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    item = Item(code=code, **_columns(fields))
    _refuse_contradictions(item)
    _refuse_gtin_of_another(item)
    return add_row(item, by=by, at=at)


def edit_item(*, code: str, fields: ItemFields, by: User, at: datetime) -> Item:
    """Change an item. Its dimension stays once anything else is on record about it.

    Raises:
        NotFoundError: no such item, model, colorway or place.
        DimensionFixedError: amounts of it are on record: `facts["used_by"]`.
        Others: as `add_item`.
    """
    item = lock_row(Item, code)
    columns = _columns(fields)
    if columns.get("dimension", item.dimension) != item.dimension:
        _refuse_used(item)
    changed = copy(item)
    for name, value in columns.items():
        setattr(changed, name, value)
    _refuse_contradictions(changed)
    if "gtin" in columns:
        _refuse_gtin_of_another(changed)
    return edit_row(item, columns, by=by, at=at)


def _columns(fields: ItemFields) -> dict[str, Any]:
    """The columns to write: codes looked up, pictograms in one text, the GTIN in 14 digits."""
    columns: dict[str, Any] = dict(fields)
    for name, look_up in _LOOK_UPS.items():
        if columns.get(name):
            columns[name] = look_up(columns[name])
            refuse_out_of_use(columns[name])
        elif name in columns:
            columns[name] = None
    if "hazard_pictograms" in columns:
        columns["hazard_pictograms"] = _pictograms(columns["hazard_pictograms"])
    if columns.get("gtin"):
        columns["gtin"] = _gtin(columns["gtin"])
    return columns


def _gtin(text: str) -> str:
    """In 14 digits; a number that could be any shop's is no GTIN."""
    gtin = checked_gtin(text)
    if is_restricted(gtin):
        raise RestrictedNumberError(
            f"{gtin} is a number of restricted circulation: another shop may have given it to "
            "something else. Leave the GTIN empty; as the item's code it can be scanned too.",
            gtin=gtin,
        )
    # A shop has such a prefix in the demo alone; the settings refuse it elsewhere.
    is_for_examples = settings.SHOP_IS_DEMO or settings.SHOP_GS1_PREFIX.startswith(DEMONSTRATION)
    if is_demonstration(gtin) and not is_for_examples:
        raise RestrictedNumberError(
            f"{gtin} begins with {DEMONSTRATION}, GS1's prefix for examples: no company has it. "
            "Type the number on the article, or leave the GTIN empty.",
            gtin=gtin,
        )
    return gtin


def _pictograms(codes: Sequence[str]) -> str:
    unknown = [code for code in codes if not _PICTOGRAM.fullmatch(code)]
    if unknown:
        raise HazardCodeError(
            "A pictogram has a code from GHS01 to GHS09. Copy it from the safety data sheet.",
            unknown=[code[:20] for code in unknown],
        )
    return ",".join(sorted(set(codes)))


def _refuse_contradictions(item: Item) -> None:
    """Refuse fields that do not go with each other."""
    refuse_unfit(item)
    measure_of(item)  # refuses a piece mass or density that no thing has
    fitting = [name for name, unit in UNITS.items() if unit.dimension == item.dimension]
    if item.display_unit not in UNITS:
        raise UnknownUnitError(
            f"There is no such unit. Use one of: {', '.join(fitting)}.",
            unit=item.display_unit,
            units=fitting,
        )
    if item.display_unit not in fitting:
        raise UnitMismatchError(
            f"An item measured by {Dimension(item.dimension)} cannot be shown in "
            f"{item.display_unit}. Use one of: {', '.join(fitting)}.",
            unit=item.display_unit,
            units=fitting,
        )


def _refuse_gtin_of_another(item: Item) -> None:
    if not item.gtin:
        return
    other = Item.objects.filter(gtin=item.gtin).exclude(pk=item.pk).first()
    if other is not None:
        raise DuplicateGtinError(
            f"The item {other.code} has this GTIN.", gtin=item.gtin, item=other.code
        )
    given = ItemGtin.objects.filter(gtin=item.gtin).exclude(item=item.pk).first()
    if given is not None:
        raise DuplicateGtinError(
            f"The item {given.item.code} was given this GTIN, which nothing else may carry ever.",
            gtin=item.gtin,
            item=given.item.code,
        )


def _refuse_used(item: Item) -> None:
    """One statement for each table that points at items."""
    used_by = [
        str(pointer.get_accessor_name())
        for pointer in item._meta.related_objects
        if pointer.related_model is not ItemGtin
        and pointer.related_model._base_manager.filter(**{pointer.field.name: item}).exists()
    ]
    if used_by:
        raise DimensionFixedError(
            "Amounts of this item are on record, so what it is measured by stays."
            " Enter a new item and take this one out of use.",
            item=item.code,
            dimension=item.dimension,
            used_by=used_by,
        )
