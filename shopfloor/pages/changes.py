"""The page of edits of plain tables, with fields and what stood in them as people say them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from django.urls import path

from shopfloor.api import records
from shopfloor.screens import Column, ListPage
from shopfloor.screens.cells import Cell, cell, readable, words
from shopfloor.units import BASE_UNIT, UNITS, own_text

_MONEY: Final = "_micro"
_AMOUNT: Final = "_base"


class ChangesPage(ListPage):
    """Edits of plain tables."""

    door = records.ChangesDoor
    title = "Changes"
    says = "Who changed what of items, bills, people and the like. What was posted is in the books."
    columns = (
        Column("at", "When", order="at"),
        Column("by"),
        Column("noun", "What"),
        Column("row_name", "Which"),
        Column("before"),
        Column("after"),
    )
    filters = ("table", "row_code", "by")
    to = ""
    none = "Nothing was changed yet."

    def _cells(self, row: Mapping[str, Any]) -> list[Cell]:
        units = row["units"]
        told = {
            name: _said(row[name] or {}, units, units.get(row["row_name"]))
            for name in ("before", "after")
        }
        return super()._cells({**row, **told})


def _said(facts: Mapping[str, Any], units: Mapping[str, str], unit: str | None) -> str:
    """Fields of a row, without its number and what is empty; amounts in the unit of its item."""
    told = (_field(name, value, units, unit) for name, value in facts.items() if name != "id")
    return "; ".join(filter(None, told))


def _field(name: str, value: Any, units: Mapping[str, str], unit: str | None) -> str:
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return f"{words(name).lower()}: {' / '.join(_part(line, units) for line in value)}"
    if name.endswith(_MONEY) and value is not None:
        name, value = name.removesuffix(_MONEY), str(Decimal(str(value)) / 10**6)
    if name.endswith(_AMOUNT) and value is not None and unit is not None:
        value = _in_unit(Decimal(str(value)), unit)
    text = cell(name, value).text
    return f"{words(name.removesuffix(_AMOUNT)).lower()}: {text}" if text else ""


def _in_unit(qty_base: Decimal, unit: str) -> Mapping[str, str]:
    """An amount in that unit; what is no whole number of base units, as exactly as it is kept."""
    if qty_base == int(qty_base):
        return {"amount": own_text(int(qty_base), unit), "unit": unit}
    return readable({"amount": f"{qty_base:f}", "unit": BASE_UNIT[UNITS[unit].dimension]})


def _part(row: Mapping[str, Any], units: Mapping[str, str]) -> str:
    """A line of it, without what is nothing."""
    facts = {name: value for name, value in row.items() if value not in (0, "0", False)}
    return _said(facts, units, units.get(row.get("item", "")))


urlpatterns = [
    path("changes/", ChangesPage.as_view()),
]
