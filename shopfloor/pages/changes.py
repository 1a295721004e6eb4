"""The page of edits of plain tables, with fields and what stood in them as people say them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from django.urls import path

from shopfloor.api import records
from shopfloor.screens import Column, ListPage
from shopfloor.screens.cells import Cell, cell, words

_MONEY: Final = "_micro"
_AMOUNT: Final = "_base"


class ChangesPage(ListPage):
    """Edits of plain tables."""

    door = records.ChangesDoor
    title = "Changes"
    says = (
        "Who changed what of items, bills, people and the like. Amounts here are in mg, uL, mm or "
        "pieces. What was posted is in the books."
    )
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
        told = {name: _said(row[name] or {}) for name in ("before", "after")}
        return super()._cells({**row, **told})


def _said(facts: Mapping[str, Any]) -> str:
    """Fields of a row, without its number and what is empty."""
    told = (_field(name, value) for name, value in facts.items() if name != "id")
    return "; ".join(filter(None, told))


def _field(name: str, value: Any) -> str:
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return f"{words(name).lower()}: {' / '.join(map(_part, value))}"
    if name.endswith(_MONEY) and value is not None:
        name, value = name.removesuffix(_MONEY), str(Decimal(str(value)) / 10**6)
    text = cell(name, value).text
    return f"{words(name.removesuffix(_AMOUNT)).lower()}: {text}" if text else ""


def _part(row: Mapping[str, Any]) -> str:
    """A line of it, without what is nothing."""
    return _said({name: value for name, value in row.items() if value not in (0, "0", False)})


urlpatterns = [
    path("changes/", ChangesPage.as_view()),
]
