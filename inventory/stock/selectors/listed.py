"""Lots of a list as JSON: the same rows as `lot_row` makes, without an object for each.

A list of a hundred is asked all day long.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import connection
from django.db.models import F, QuerySet, TextField
from django.db.models.functions import Cast

from inventory.stock.models import Lot
from inventory.stock.selectors.amounts import amount_row
from inventory.stock.selectors.lots import LOT_COLUMNS
from shopfloor.fields import rfc3339
from shopfloor.money import money_text


def lots_found() -> QuerySet[Lot]:
    """All lots, to be filtered and ordered, and only then to get their columns."""
    return Lot.objects.order_by("id")


def lots_shown(found: QuerySet[Lot]) -> Any:
    """The same with `LOT_COLUMNS`; `lots_json` makes rows of a page."""
    return found.values_list(*(_column(name, connection.vendor) for name in LOT_COLUMNS))


def _column(name: str, vendor: str) -> Any:
    """SQLite keeps a moment as text in UTC; as text it need not be read and written again."""
    return Cast(name, TextField()) if vendor == "sqlite" and name.endswith("_at") else F(name)


def lots_json(page: Sequence[Sequence[Any]]) -> list[dict[str, Any]]:
    """Rows of a page as the API answers them. No query."""
    return [_json(row) for row in page]


def _json(row: Sequence[Any]) -> dict[str, Any]:
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
        "expires_at": expires_at and _moment(expires_at),
        "opened_at": opened_at and _moment(opened_at),
        "discard_at": discard_at and _moment(discard_at),
        "on_hand": {"amount": amount, "unit": unit},
        "value": money_text(value_micro),
    }


def _moment(kept: str | datetime) -> str:
    """RFC 3339 of a moment as `_column` has it."""
    return f"{kept[:10]}T{kept[11:]}Z" if isinstance(kept, str) else rfc3339(kept)
