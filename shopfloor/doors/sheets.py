"""Lists as sheets: which kind was asked for, the columns of a shape, and the file as an answer."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from tempfile import TemporaryFile
from typing import Any, Final, NamedTuple

from django.conf import settings
from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.drainage import get_override
from rest_framework import serializers
from rest_framework.request import Request

from shopfloor.days import shop_day, shop_zone
from shopfloor.doors.body import one_of
from shopfloor.fields import AmountSerializer, NumberField
from shopfloor.sheets import CSV, KINDS, Cell, SheetKind

FORMAT: Final = "format"
"""The query parameter that says which kind; stronger than `Accept`."""

JSON: Final = "json"
FORMATS: Final = (JSON, *(kind.name for kind in KINDS))
_JSON_TYPE = "application/json"

Field = serializers.Field[Any, Any, Any, Any]


class Column(NamedTuple):
    """One column: its name, where its value stands in a row, and how it becomes a cell."""

    name: str
    path: tuple[str, ...]
    cell: Callable[[Any], Cell]

    def of(self, row: Mapping[str, Any]) -> Cell:
        """The cell of a row."""
        value: Any = row
        for name in self.path:
            if value is None:
                return None
            value = value[name]
        return None if value is None else self.cell(value)


def asked_kind(request: Request) -> SheetKind | None:
    """The sheet that `?format=` or else `Accept` asks for; None is JSON.

    Raises:
        ValidationError: a format that no list has.
    """
    name = request.query_params.get(FORMAT)
    if name is None and request.headers.get("Accept", "*/*") in {"*/*", _JSON_TYPE}:
        return None
    if name is None:
        # JSON first: it is what somebody gets who takes anything.
        wanted = request._request.get_preferred_type([_JSON_TYPE, *(k.media_type for k in KINDS)])
        return next((kind for kind in KINDS if kind.media_type == wanted), None)
    if name not in FORMATS:
        raise serializers.ValidationError({FORMAT: [one_of(FORMATS)]})
    return next((kind for kind in KINDS if kind.name == name), None)


def columns_of(shape: Field, path: tuple[str, ...] = ()) -> Iterator[Column]:
    """The columns of a row of this shape.

    What stands in an object within the row gets its name before its own (`offer_supplier`), an
    amount two columns (`on_hand`, `on_hand_unit`). A list within a row stays one cell.
    """
    shape = _as_described(shape)
    name = "_".join(path)
    if isinstance(shape, AmountSerializer):
        yield Column(name, (*path, "amount"), Decimal)
        yield Column(f"{name}_unit", (*path, "unit"), str)
    elif isinstance(shape, serializers.Serializer):
        for inner, field in shape.fields.items():
            if not field.write_only:
                yield from columns_of(field, (*path, inner))
    else:
        readers = (cell for kind, cell in _CELLS if isinstance(shape, kind))
        yield Column(name, path, next(readers, _as_it_is))


def _as_described(field: Field) -> Field:
    """What the description says of a field whose class does not say it."""
    describer: Any = field
    if isinstance(field, serializers.SerializerMethodField):
        describer = getattr(field.parent, str(field.method_name))
    described: Any = get_override(describer, "field")
    if isinstance(described, dict):
        is_number = described.get("format") == "decimal"
        return NumberField() if is_number else field
    shape: Field = described() if isinstance(described, type) else described
    return field if described is None else shape


def _day(value: str | date) -> date:
    return date.fromisoformat(value) if isinstance(value, str) else value


def _moment(text: str) -> str:
    """In the shop's zone, with its offset."""
    return datetime.fromisoformat(text).astimezone(shop_zone()).isoformat()


def _as_it_is(value: Any) -> Cell:
    """Texts, whole numbers, yes and no; a list within a row as JSON, an empty one as nothing."""
    if isinstance(value, list | tuple | dict):
        return json.dumps(value, ensure_ascii=False) if value else None
    return value if isinstance(value, str | int) else str(value)


_CELLS: tuple[tuple[type[Field], Callable[[Any], Cell]], ...] = (
    (NumberField, Decimal),
    (serializers.DateTimeField, _moment),
    (serializers.DateField, _day),
)


def sheet_answer(
    kind: SheetKind, *, name: str, shape: Field, rows: Iterable[Mapping[str, Any]]
) -> FileResponse:
    """The rows as a file to be saved.

    It is made whole, on the disk, before its first byte leaves: what goes wrong on the way is
    answered as a problem, and half a sheet never looks like all of it.
    """
    columns = list(columns_of(shape))
    file = TemporaryFile()  # noqa: SIM115 - the answer closes it
    try:
        kind.write(
            file,
            [column.name for column in columns],
            ([column.of(row) for column in columns] for row in rows),
        )
        file.seek(0)
    except BaseException:
        file.close()
        raise
    day = shop_day(timezone.now())
    return FileResponse(
        file,
        as_attachment=True,
        filename=f"{'DEMO-' if settings.SHOP_IS_DEMO else ''}{name}-{day}.{kind.name}",
        content_type=f"{kind.media_type}; charset=utf-8" if kind is CSV else kind.media_type,
    )
