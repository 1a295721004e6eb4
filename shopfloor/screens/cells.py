"""Values of the API's answers as people read them: text, whether it is a number, where it leads."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from html import escape
from types import MappingProxyType
from typing import Any, Final, NamedTuple
from urllib.parse import quote

from django.utils.safestring import SafeString, mark_safe

from shopfloor.days import shop_moment
from shopfloor.screens.beside import beside
from shopfloor.units import UNITS

# Fields that name a thing, by the list that has it. The floors above are named as text.
REFERENCES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "alert": "alerts",
        "batch": "batches",
        "box": "boxes",
        "carton_of": "items",
        "check": "checks",
        "colorway": "colorways",
        "complaint": "complaints",
        "count": "counts",
        "customer": "customers",
        "defect": "scrap-reasons",
        "definition": "check-definitions",
        "entry": "entries",
        "equipment": "equipment",
        "hold": "holds",
        "item": "items",
        "lot": "lots",
        "model": "models",
        "place": "places",
        "posting": "postings",
        "receipt": "receipts",
        "recall": "recalls",
        "reversed_by": "postings",
        "reverses": "postings",
        "rework_stage": "stages",
        "scrap_reason": "scrap-reasons",
        "shipment": "shipments",
        "split_from": "lots",
        "stage": "stages",
        "storage_place": "places",
        "supplier": "suppliers",
        "supplier_order": "supplier-orders",
        "customer_order": "customer-orders",
        "to_item": "items",
    }
)
WITHOUT_PAGE: Final = frozenset({"scrap-reasons"})
"""Lists whose things have no page of their own: named, but not linked."""

_WORDS: Final = frozenset(
    {
        "arrives",
        "became",
        "dimension",
        "disposition",
        "document_kind",
        "grade",
        "kind",
        "lot_sizing",
        "outside_kind",
        "purpose",
        "role",
        "severity",
        "state",
        "verdict",
    }
)
SAID: Final[Mapping[str, str]] = MappingProxyType(
    {
        "abc": "ABC",
        "at": "When",
        "gtin": "GTIN",
        "is_active": "In use",
        "is_preferred": "Preferred",
        "lead_time_days": "Lead time, days",
        "packs_min": "At least packs",
        "row_code": "Which",
        "shelf_life_days": "Shelf life, days",
        "sscc": "SSCC",
        "table": "What",
    }
)
"""Members whose names are no words for people, on every page that does not say otherwise."""
_MARKED: Final = frozenset({"disposition", "state", "verdict"})
_MONEY = re.compile(r"(^|_)(value|price|cost|margin|posted|undone)$")
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_SMALLER: Final[Mapping[str, str]] = {"kg": "g", "g": "mg", "L": "mL", "mL": "uL"}  # a thousandth
_TINY: Final = Decimal("0.1")
_LARGER: Final[Mapping[str, str]] = {"mg": "g", "uL": "mL"}
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\S*")
_QUOTED = re.compile(r"`([a-z]+(?:_[a-z]+)*)`")
_WHOLE = re.compile(r"\S{1,24}")
_WHEN = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d")
_LONG: Final = 40
_RATE_DIGITS: Final = Decimal("0.001")
_GROUPED_FROM: Final = 5  # digits; a year or a small count reads better without


class Cell(NamedTuple):
    """One value on a page.

    Attributes:
        text: What stands there; empty where nothing is known.
        address: The page it leads to, if any.
        is_number: Whether it lines up at the right.
        note: What stands below it, smaller.
        mark: The word it is colored by, where it says how something stands.
    """

    text: str
    address: str = ""
    is_number: bool = False
    note: str = ""
    mark: str = ""

    def __html__(self) -> str:
        """As a template shows it. Written here: a page has a thousand, and templates are slow."""
        text = escape(self.text)
        if self.address:
            text = f'<a href="{escape(self.address)}">{text}</a>'
        elif self.mark:
            text = f'<span class="mark {escape(self.mark)}">{text}</span>'
        return f'{text}<span class="note">{escape(self.note)}</span>' if self.note else text

    def __str__(self) -> str:
        """The same: a template makes a text of a value before it asks whether it is safe."""
        return mark_safe(self.__html__())  # noqa: S308 - escaped above

    @property
    def td(self) -> SafeString:
        """As a cell of a table."""
        return mark_safe(f"<td{self.kind}>{self.__html__()}</td>")  # noqa: S308 - escaped above

    @property
    def kind(self) -> str:
        """How it is laid out: a code and a moment in one line, long words not too narrow."""
        if self.is_number:
            return ' class="number"'
        if _WHEN.fullmatch(self.text):
            return ' class="whole when"'
        if "-" in self.text and _WHOLE.fullmatch(self.text):
            return ' class="whole"'
        return ' class="words"' if len(self.text) > _LONG else ""


def row_of(cells: Sequence[Cell]) -> SafeString:
    """A row of a list, the first cell its heading."""
    first, *others = cells
    head = f'<th scope="row"{first.kind}>{first.__html__()}</th>'
    return mark_safe(f"<tr>{head}{''.join(cell.td for cell in others)}</tr>")  # noqa: S308 - escaped by each


class Column(NamedTuple):
    """One column of a list.

    Attributes:
        name: The member of the row; a dot leads into one: `bill.revision`.
        label: Its heading; the name as words where it is left out.
        to: The list whose page the value leads to, where the name does not say; or the page's
            address, with members of the row in braces.
        order: What `?ordering=` calls it, where rows can be ordered by it.
        note: The member that stands below it.
    """

    name: str
    label: str = ""
    to: str = ""
    order: str = ""
    note: str = ""

    @property
    def heading(self) -> str:
        """What stands above it."""
        return self.label or words(self.name)

    def cell(self, row: Mapping[str, Any]) -> Cell:
        """Its value in a row."""
        made = cell(self.name, within(row, self.name), "" if "{" in self.to else self.to)
        if "{" in self.to and made.text:
            made = made._replace(address=self.to.format_map(Quoted(row)))
        return made._replace(note=cell("", within(row, self.note)).text) if self.note else made


class Quoted(dict[str, Any]):
    """Members of a thing as parts of an address."""

    def __init__(self, thing: Mapping[str, Any]) -> None:
        super().__init__({name: quote(str(value), safe="") for name, value in thing.items()})


def words(name: str) -> str:
    """A member's name as words: `told_on` is "Told on", `supplier_lot_code` "Supplier lot code"."""
    if said := SAID.get(name.rpartition(".")[2]):
        return said
    text = name.rpartition(".")[2].replace("_", " ").replace("-", " ")
    for ending in (" at", " qty"):
        text = text.removesuffix(ending)
    return text[:1].upper() + text[1:]


def in_words(text: str) -> str:
    """A sentence of the API for people: the members it names are called as on the pages."""
    return _QUOTED.sub(lambda found: f"“{words(found[1])}”", text)


def within(row: Any, name: str) -> Any:
    """A member of a row, or of a member of it, of a list each one once; None if there is none."""
    first, _, rest = name.partition(".")
    if isinstance(row, list):
        return list(dict.fromkeys(filter(None, (within(each, name) for each in row))))
    value = row.get(first) if isinstance(row, Mapping) else None
    return within(value, rest) if rest else value


def cell(name: str, value: Any, to: str = "") -> Cell:
    """A value by its member's name."""
    if value is None or value in ("", []):
        return Cell("")
    if isinstance(value, bool):
        return _of_yes_or_no(name, value)
    if isinstance(value, Mapping):
        return _of_object(name, value, to)
    if isinstance(value, list):
        between = "; " if isinstance(value[0], Mapping) else ", "
        return Cell(between.join(cell(name, each).text for each in value))
    if isinstance(value, int | float):
        return Cell(_number(name, str(value)), is_number=True)
    return _of_text(name, str(value), to)


def _of_yes_or_no(name: str, value: bool) -> Cell:  # noqa: FBT001 - the value itself
    if name == "is_passed":
        return _of_text("verdict", "passed" if value else "failed", "")
    return Cell("yes" if value else "no")


def _of_object(name: str, value: Mapping[str, Any], to: str) -> Cell:
    if is_amount(value):
        return Cell(amount(value), is_number=True)
    if value.keys() == {"takes", "makes"}:
        return Cell(f"{cell('price', _rate(value['takes'])).text} for {amount(value['makes'])}")
    if "code" in value:
        return cell(name, value["code"], to)._replace(text=named(value))
    shown = ((words(key).lower(), cell(key, each).text) for key, each in value.items())
    return Cell(", ".join(f"{word} {text}" for word, text in shown if text))


def _of_text(name: str, text: str, to: str) -> Cell:
    kind, folder = _reading(name.rpartition(".")[2], to)
    if kind == "moment" or _MOMENT.fullmatch(text):
        return Cell(shop_moment(text))
    if kind == "number" and _NUMBER.fullmatch(text):
        return Cell(_number(name, text), is_number=True)
    if kind == "word":
        return Cell(text.replace("_", " "))
    if kind == "mark":
        return Cell(text.replace("_", " "), mark=text)
    if kind == "document":
        return _of_document(text)
    return Cell(text, address=f"/{folder}/{text}/") if folder else Cell(text)


def _of_document(text: str) -> Cell:
    """What a posting is for, as `supplier_order PO0058`: it leads there."""
    what, _, code = text.partition(" ")
    folder = REFERENCES.get(what, "") if code else ""
    said = f"{what.replace('_', ' ')} {code}".strip()
    return Cell(said, f"/{folder}/{code}/" if folder else "")


@cache
def _reading(name: str, to: str) -> tuple[str, str]:
    """How a member of that name is read, and the list that it leads to."""
    if name == "at" or name.endswith("_at"):
        return "moment", ""
    if _MONEY.search(name) or name.endswith("_ratio"):
        return "number", ""
    if name == "document":
        return "document", ""
    if name in _WORDS:
        return ("mark" if name in _MARKED else "word"), ""
    folder = to or REFERENCES.get(name, "")
    return "text", "" if folder in WITHOUT_PAGE else folder


def named(thing: Mapping[str, Any]) -> str:
    """A thing's code, with its name where it has another."""
    code, name = str(thing.get("code", "")), str(thing.get("name") or "")
    return f"{code} {name}" if name and name != code else code


def amount(value: Mapping[str, Any]) -> str:
    """An amount and its unit, one in which it is not tiny; pieces without one."""
    shown = not_tiny(value)
    number, unit = grouped(shown["amount"]), UNITS.get(shown["unit"])
    label = shown["unit"] if unit is None else unit.label
    return number if shown["unit"] == "each" else f"{number} {label}"


def not_tiny(value: Mapping[str, Any]) -> dict[str, str]:
    """An amount in a unit in which it is easily read and typed: 0.0042 kg is 4.2 g."""
    number, unit = str(value["amount"]), str(value["unit"])
    while unit in _SMALLER and 0 < abs(Decimal(number)) < _TINY:
        number, unit = f"{(Decimal(number) * 1000).normalize():f}", _SMALLER[unit]
    return {"amount": number, "unit": unit}


def _rate(value: Any) -> Any:
    """What one piece takes, to the thousandth of its unit; a price as it is."""
    return rounded(value) if is_amount(value) else value


def readable(value: Mapping[str, Any]) -> dict[str, str]:
    """An amount in a unit in which it is neither tiny nor many: 4818.2354 mg is 4.8182354 g."""
    shown = not_tiny(value)
    number, unit = Decimal(shown["amount"]), shown["unit"]
    if unit in _LARGER and abs(number) >= _TINY * 1000:
        number, unit = number / 1000, _LARGER[unit]
    return {"amount": f"{number:f}", "unit": unit}


def rounded(value: Mapping[str, Any]) -> dict[str, str]:
    """A reckoned amount to the thousandth of a readable unit: 4818.2354 mg is 4.818 g."""
    shown = readable(value)
    number = Decimal(shown["amount"])
    if not number:
        return not_tiny(value)
    return {**shown, "amount": f"{number.quantize(_RATE_DIGITS).normalize():f}"}


def both_systems(value: Mapping[str, Any]) -> Cell:
    """An amount, and below it the same in the other system of units."""
    other = beside(Decimal(str(value["amount"])), str(value["unit"]))
    return Cell(amount(value), is_number=True, note=f"= {other}" if other else "")


def is_amount(value: Any) -> bool:
    """Whether a value of an answer is an amount and its unit."""
    return isinstance(value, Mapping) and value.keys() >= {"amount", "unit"}


def _number(name: str, text: str) -> str:
    if name.endswith("_ratio"):
        return f"{(Decimal(text) * 100).normalize():f} %"
    if _MONEY.search(name):
        return grouped(_cents(Decimal(text)))
    return grouped(text)


def _cents(money: Decimal) -> str:
    """To the cent; what is less than one, as exactly as it is kept."""
    cents = money.quantize(Decimal("0.01"))
    return f"{cents:f}" if cents or not money else f"{money:f}"


def grouped(text: str) -> str:
    """A decimal number with its thousands apart, from five digits on."""
    whole, point, rest = text.partition(".")
    sign, digits = ("-", whole[1:]) if whole.startswith("-") else ("", whole)
    if not digits.isdecimal() or len(digits) < _GROUPED_FROM:
        return text
    return f"{sign}{int(digits):,}{point}{rest}"


def columns_of(rows: Sequence[Mapping[str, Any]]) -> list[Column]:
    """A column for each member that says something in any of the rows."""
    names = dict.fromkeys(name for row in rows for name in row)
    return [Column(name) for name in names if any(cell(name, row.get(name)).text for row in rows)]
