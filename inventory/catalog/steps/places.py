"""Writes of models, colorways, places, equipment and suppliers, inside an open transaction."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypedDict

from inventory.catalog.errors import DuplicateCodeError, EquipmentPartError
from inventory.catalog.models import (
    PART_OF,
    Colorway,
    Equipment,
    EquipmentKind,
    LureModel,
    Place,
    Supplier,
)
from inventory.catalog.selectors import one_equipment, refuse_out_of_use
from inventory.catalog.steps.rows import add_row, edit_row, lock_row
from shopfloor.codes.alphabet import own_code
from shopfloor.models import User

PARTS_MAX = 200


class ModelFields(TypedDict, total=False):
    """What a person may set of a model; a new one needs `name`."""

    name: str
    length_mm: int | None
    painted_area_mm2: int | None
    is_active: bool


class ColorwayFields(TypedDict, total=False):
    """What a person may set of a colorway; a new one needs `name`."""

    name: str
    is_active: bool


class PlaceFields(TypedDict, total=False):
    """What a person may set of a place; a new one needs `name` and `kind`."""

    name: str
    kind: str
    is_active: bool


class SupplierFields(TypedDict, total=False):
    """What a person may set of a supplier; a new one needs `name`."""

    name: str
    contact: str
    is_active: bool


class EquipmentFields(TypedDict, total=False):
    """What a person may set of equipment later: what it is and is part of stays."""

    name: str
    is_active: bool


def add_model(*, code: str, fields: ModelFields, by: User, at: datetime) -> LureModel:
    """Enter a model.

    Raises:
        OwnCodeError, DuplicateCodeError: its code.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    return add_row(LureModel(code=code, **fields), by=by, at=at)


def edit_model(*, code: str, fields: ModelFields, by: User, at: datetime) -> LureModel:
    """Change a model.

    Raises:
        NotFoundError, InvalidInputError: as named.
    """
    return edit_row(lock_row(LureModel, code), fields, by=by, at=at)


def add_colorway(*, code: str, fields: ColorwayFields, by: User, at: datetime) -> Colorway:
    """Enter a colorway.

    Raises:
        OwnCodeError, DuplicateCodeError: its code.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    return add_row(Colorway(code=code, **fields), by=by, at=at)


def edit_colorway(*, code: str, fields: ColorwayFields, by: User, at: datetime) -> Colorway:
    """Change a colorway.

    Raises:
        NotFoundError, InvalidInputError: as named.
    """
    return edit_row(lock_row(Colorway, code), fields, by=by, at=at)


def add_place(*, code: str, fields: PlaceFields, by: User, at: datetime) -> Place:
    """Enter a place.

    Raises:
        OwnCodeError, DuplicateCodeError: its code.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    return add_row(Place(code=code, **fields), by=by, at=at)


def edit_place(*, code: str, fields: PlaceFields, by: User, at: datetime) -> Place:
    """Change a place.

    Raises:
        NotFoundError, InvalidInputError: as named.
    """
    return edit_row(lock_row(Place, code), fields, by=by, at=at)


def add_supplier(*, code: str, fields: SupplierFields, by: User, at: datetime) -> Supplier:
    """Enter a supplier.

    Raises:
        OwnCodeError, DuplicateCodeError: its code.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    return add_row(Supplier(code=code, **fields), by=by, at=at)


def edit_supplier(*, code: str, fields: SupplierFields, by: User, at: datetime) -> Supplier:
    """Change a supplier.

    Raises:
        NotFoundError, InvalidInputError: as named.
    """
    return edit_row(lock_row(Supplier, code), fields, by=by, at=at)


def add_equipment(
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
    """Enter equipment: a mold with all its cavities or a wheel with all its stations in one go.

    At most six statements, whatever the number of parts. Part 3 of 12 of `W1` has the code `W1-03`.

    Args:
        code: The shop's own code.
        name: What people call it.
        kind: One of `EquipmentKind`.
        by: Who enters it.
        at: When.
        parent_code: For a single cavity or station: the mold or wheel it belongs to.
        number: For a single cavity or station: its number there.
        part_kind: "cavity" for a mold, "station" for a wheel.
        part_count: How many parts, 0 to `PARTS_MAX`.

    Raises:
        OwnCodeError, DuplicateCodeError: its code or that of a part.
        NotFoundError, NotActiveError: the parent.
        EquipmentPartError: parts or parent do not go with its kind, or the number is taken.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    row = Equipment(code=code, name=name, kind=kind, number=number)
    if parent_code:
        row.parent = one_equipment(parent_code)
    _refuse_wrong_parent(row)
    _refuse_wrong_parts(row, part_kind, part_count)
    add_row(row, by=by, at=at)
    if part_count:
        _add_parts(row, part_kind, part_count)
    return row


def edit_equipment(*, code: str, fields: EquipmentFields, by: User, at: datetime) -> Equipment:
    """Change equipment, or take one cavity or station out of use.

    Raises:
        NotFoundError, InvalidInputError: as named.
    """
    return edit_row(lock_row(Equipment, code), fields, by=by, at=at)


def _refuse_wrong_parent(row: Equipment) -> None:
    whole = PART_OF.get(EquipmentKind(row.kind)) if row.kind in EquipmentKind.values else None
    facts: dict[str, Any] = {"equipment": row.code, "kind": row.kind}
    if whole is None:
        if row.parent is not None or row.number is not None:
            raise EquipmentPartError(
                "Only a cavity and a station belong to something and have a number there.", **facts
            )
        return
    if row.parent is None or row.number is None or row.parent.kind != whole:
        raise EquipmentPartError(
            f"A {row.kind} needs the {whole} it belongs to and its number there.", **facts
        )
    refuse_out_of_use(row.parent)
    if row.number in {part.number for part in row.parent.parts.all()}:
        raise EquipmentPartError(
            f"{row.parent.code} has a number {row.number} already. Give another number.",
            **facts,
            number=row.number,
        )


def _refuse_wrong_parts(row: Equipment, part_kind: str, part_count: int) -> None:
    if not part_kind and not part_count:
        return
    fits = part_kind in EquipmentKind.values and PART_OF.get(EquipmentKind(part_kind)) == row.kind
    if not fits or not 1 <= part_count <= PARTS_MAX:
        raise EquipmentPartError(
            f"A mold has cavities and a wheel has stations, 1 to {PARTS_MAX} of them.",
            equipment=row.code,
            kind=row.kind,
            part_kind=part_kind,
            part_count=part_count,
        )


def _add_parts(row: Equipment, kind: str, count: int) -> None:
    width, name_length = len(str(count)), Equipment._meta.get_field("name").max_length
    parts = [
        Equipment(
            code=own_code(f"{row.code}-{number:0{width}}"),
            name=f"{row.name}, {kind} {number}"[:name_length],
            kind=kind,
            parent=row,
            number=number,
        )
        for number in range(1, count + 1)
    ]
    taken = Equipment.objects.filter(code__in=[part.code for part in parts]).first()
    if taken is not None:
        raise DuplicateCodeError(
            f"The code {taken.code} is taken, so the parts need another code to begin with.",
            code=taken.code,
        )
    Equipment.objects.bulk_create(parts)
