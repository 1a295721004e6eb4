"""A shop as sheets: every table of ours, declared out of the models themselves.

A reference is the number (primary key) of a row in the sheet it points at. Numbers move along:
public codes are made of them, and stand on paper.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import connection, models
from django.db.migrations.recorder import MigrationRecorder

from batches.exchange.rules.moving_about import About, Digest
from batches.exchange.rules.moving_cells import (
    DAY,
    IP_ADDRESS,
    JSON,
    MOMENT,
    YES_NO,
    CellKind,
    decimal,
    one_of,
    text,
    whole_number,
)
from batches.exchange.rules.moving_sheets import ROWS_AT_ONCE, MovingColumn, MovingSheet, written
from shopfloor.models import Token, User
from shopfloor.tokens import digest_of, new_token_text

FLOORS: Final = ("shopfloor", "inventory", "batches")

# What lets somebody in stays behind unless it is asked for. What stands in its place opens nothing.
_STAND_INS: Final[Mapping[tuple[type[models.Model], str], Callable[[], str]]] = {
    (User, "password"): lambda: make_password(None),
    (Token, "digest"): lambda: digest_of(new_token_text()),
}

# From what SQLite would take to what PostgreSQL does: a shop may move either way.
_RANGES: Final = {
    "AutoField": (1, 2**31 - 1),
    "BigAutoField": (1, 2**63 - 1),
    "BigIntegerField": (-(2**63), 2**63 - 1),
    "IntegerField": (-(2**31), 2**31 - 1),
    "PositiveBigIntegerField": (0, 2**63 - 1),
    "PositiveIntegerField": (0, 2**31 - 1),
    "PositiveSmallIntegerField": (0, 2**15 - 1),
    "SmallIntegerField": (-(2**15), 2**15 - 1),
}
_PLAIN: Final = {
    "BooleanField": YES_NO,
    "DateField": DAY,
    "DateTimeField": MOMENT,
    "GenericIPAddressField": IP_ADDRESS,
    "JSONField": JSON,
}


@dataclass(frozen=True, slots=True)
class MovingTable:
    """A table and its sheet.

    Attributes:
        model: The table.
        fields: In the order of the sheet's columns, the primary key first.
        sheet: How it is written.
        stand_ins: Fields that do not move, and what makes a value for each row.
    """

    model: type[models.Model]
    fields: Sequence[models.Field[Any, Any]]
    sheet: MovingSheet
    stand_ins: Mapping[models.Field[Any, Any], Callable[[], str]]

    @property
    def name(self) -> str:
        """Of the table, quoted."""
        return connection.ops.quote_name(self.model._meta.db_table)

    @property
    def references(self) -> list[models.ForeignKey[Any, Any]]:
        """Fields that point at a row of some table."""
        return [field for field in self.fields if isinstance(field, models.ForeignKey)]

    def column(self, field: models.Field[Any, Any]) -> str:
        """Where a field of it is kept, quoted."""
        assert field.column is not None
        return connection.ops.quote_name(field.column)


def moving_tables(*, has_sign_ins: bool) -> list[MovingTable]:
    """Every table of ours, lowest floor first. No query."""
    return [
        _table(model, has_sign_ins=has_sign_ins)
        for floor in FLOORS
        for model in apps.get_app_config(floor).get_models(include_auto_created=True)
    ]


def cells_of(table: MovingTable) -> Iterator[list[tuple[str, ...]]]:
    """The rows of a table as cells, in the order of their numbers, some thousands at a time.

    One query; on PostgreSQL read through a cursor of the server, so that nothing piles up here.
    """
    names = [field.attname for field in table.fields]
    found = table.model._default_manager.order_by("pk").values_list(*names)
    rows: list[tuple[Any, ...]] = []
    for row in found.iterator(chunk_size=ROWS_AT_ONCE):
        rows.append(row)
        if len(rows) == ROWS_AT_ONCE:
            yield list(written(table.sheet, rows))
            rows = []
    if rows:
        yield list(written(table.sheet, rows))


def migrations_applied() -> list[str]:
    """The state of our tables. One query."""
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{floor}.{name}" for floor, name in applied if floor in FLOORS)


def about_shop(
    *,
    now: datetime,
    has_sign_ins: bool,
    sheets: Mapping[str, Digest],
    uploads: Mapping[str, Digest],
) -> About:
    """What `about.json` says of this shop."""
    tables = {table.model: table for table in moving_tables(has_sign_ins=has_sign_ins)}
    references = {
        table.sheet.file: {
            field.name: tables[field.related_model].sheet.file for field in table.references
        }
        for table in tables.values()
    }
    return About(
        exported_at=MOMENT.write(now),
        database=connection.vendor,
        currency=settings.SHOP_CURRENCY,
        time_zone=settings.SHOP_TIME_ZONE,
        is_demo=settings.SHOP_IS_DEMO,
        has_sign_ins=has_sign_ins,
        migrations=migrations_applied(),
        sheets=sheets,
        references={file: columns for file, columns in sorted(references.items()) if columns},
        uploads=uploads,
    )


def files_below(folder: Path) -> dict[str, Path]:
    """Every file in a folder and in its folders, by its path there; none if there is no folder.

    Links are no files: they lead elsewhere.
    """
    return {
        path.relative_to(folder).as_posix(): path
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.is_symlink()
    }


def copy_files(files: Mapping[str, Path], into: Path) -> None:
    """Copy what `files_below` found to the same paths in another folder."""
    for name, path in files.items():
        (into / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, into / name)


def sha256_of(path: Path) -> str:
    """Of the bytes of a file, hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _table(model: type[models.Model], *, has_sign_ins: bool) -> MovingTable:
    stand_ins = {
        field: _STAND_INS[model, field.name]
        for field in model._meta.concrete_fields
        if (model, field.name) in _STAND_INS and not has_sign_ins
    }
    fields = [field for field in model._meta.concrete_fields if field not in stand_ins]
    fields.sort(key=lambda field: not field.primary_key)  # stable: the rest stays as declared
    columns = [MovingColumn(field.name, _kind(field), field.null) for field in fields]
    return MovingTable(model, fields, MovingSheet(_sheet_name(model), columns), stand_ins)


def _sheet_name(model: type[models.Model]) -> str:
    return model._meta.verbose_name.replace(" ", "_")  # type: ignore[union-attr]


def _kind(field: models.Field[Any, Any]) -> CellKind:
    if isinstance(field, models.ForeignKey):
        return _kind(field.target_field)
    internal_type = field.get_internal_type()
    if internal_type in _RANGES:
        return whole_number(*_RANGES[internal_type])
    if internal_type in _PLAIN:
        return _PLAIN[internal_type]
    if isinstance(field, models.DecimalField):
        return decimal(digits=field.max_digits, places=field.decimal_places)
    assert isinstance(field, models.CharField | models.TextField), f"no cell can hold {field}"
    assert not field.null, f"an empty cell of {field} could be nothing, or words of no length"
    if field.choices:
        empty = {""} if field.blank else set()
        return one_of(frozenset(empty | {word for word, _ in field.flatchoices}))
    return text(field.max_length)
