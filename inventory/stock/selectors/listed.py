"""Lots of a list as JSON: the same rows as `lot_row` makes, without an object for each.

A list of a hundred is asked all day long. The filters find the numbers; one statement, whose text
is made once, has the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import F, TextField
from django.db.models.functions import Cast

from inventory.stock.models import Lot
from inventory.stock.selectors.amounts import amount_row
from inventory.stock.selectors.lots import LOT_COLUMNS
from shopfloor.fields import rfc3339
from shopfloor.money import money_text

_ONE = "IN (%s)"


def lot_numbers() -> Any:
    """The row ids of all lots, to be filtered and paged; `lots_json` makes rows of a page."""
    return Lot.objects.order_by("id").values_list("pk", flat=True)


def lots_json(ids: Sequence[int]) -> list[dict[str, Any]]:
    """Lots in the order of the ids, as the API answers them. One statement."""
    if not ids:
        return []
    with connection.cursor() as cursor:
        cursor.execute(_statement(connection.vendor).replace(_ONE, _in(len(ids))), list(ids))
        found = {row[0]: _json(row) for row in cursor.fetchall()}
    return [found[number] for number in ids]


@cache
def _statement(vendor: str) -> str:
    """The columns of lots with these ids; each database has its own text."""
    columns = ("id", *(_column(name, vendor) for name in LOT_COLUMNS[1:]))
    rows = Lot.objects.order_by().filter(pk__in=[0]).values_list(*columns)
    sql, _ = rows.query.sql_with_params()
    assert sql.count(_ONE) == 1
    return str(sql)


def _column(name: str, vendor: str) -> Any:
    """SQLite keeps a moment as text in UTC; as text it need not be read and written again."""
    return Cast(name, TextField()) if vendor == "sqlite" and name.endswith("_at") else F(name)


def _in(number: int) -> str:
    return f"IN ({', '.join(['%s'] * number)})"


def _json(row: Sequence[Any]) -> dict[str, Any]:
    """A row of `LOT_COLUMNS`."""
    (_, code, item, item_name, dimension, unit, place, owner, grade, disposition) = row[:10]
    (supplier, supplier_lot_code, split_from, born_at, expires_at, opened_at) = row[10:16]
    (discard_at, on_hand_base, value_micro) = row[16:]
    amount, unit = amount_row(on_hand_base, dimension=dimension, unit=unit)
    return {
        "code": code,
        "item": item,
        "item_name": item_name,
        "place": place,
        "owner": owner,
        "grade": grade,
        "disposition": disposition,
        "supplier": supplier,
        "supplier_lot_code": supplier_lot_code,
        "split_from": split_from,
        "born_at": _moment(born_at),
        "expires_at": _moment(expires_at),
        "opened_at": _moment(opened_at),
        "discard_at": _moment(discard_at),
        "on_hand": {"amount": amount, "unit": unit},
        "value": money_text(value_micro),
    }


def _moment(kept: str | datetime | None) -> str | None:
    """RFC 3339 of a moment as `_column` has it."""
    if kept is None:
        return None
    return rfc3339(kept) if isinstance(kept, datetime) else f"{kept[:10]}T{kept[11:]}Z"
