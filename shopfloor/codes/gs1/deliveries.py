"""What a supplier's label says of what came: lot, expiry, amount, in plain fields for a receipt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Final, NamedTuple

from shopfloor.codes.gs1.dates import gs1_date
from shopfloor.codes.gs1.elements import Element, ElementString

_UNITS: Final[Mapping[str, tuple[str, int]]] = MappingProxyType(
    {
        "310": ("kg", 1),
        "311": ("m", 1),
        "315": ("L", 1),
        "316": ("L", 1000),
        "320": ("lb", 1),
        "321": ("in", 1),
        "322": ("ft", 1),
        "323": ("ft", 3),
        "360": ("qt", 1),
        "361": ("gal", 1),
    }
)
"""Net measures by the first three digits, in units of this shop and how many of those one is. Gross
weights are not what we receive, areas are nothing we count in, and 357 says ounces but not whether
of weight or volume."""


class Measure(NamedTuple):
    """A net amount, in a unit of `shopfloor/units.py`."""

    amount: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Delivered:
    """What one or several symbols on one thing say; None or empty: nothing.

    Attributes:
        gtin: Of the article, from (01), or of the articles in a box, from (02).
        sscc: Of the box or pallet.
        lot_code: The supplier's.
        serial: Of one article.
        made_on: Production date.
        packed_on: Packaging date.
        best_before_on: Best before.
        expiry_on: Use by; of an expiry with a time its day.
        pieces: In an article of variable count (30).
        articles: How many of the article are in the box (37).
        measures: Net weight, volume, length.
        supplier_item_code: The supplier's further number of the article (240).
        our_item_code: Our number of it (241).
        our_order_code: Our order (400).
    """

    gtin: str | None = None
    sscc: str | None = None
    lot_code: str | None = None
    serial: str | None = None
    made_on: date | None = None
    packed_on: date | None = None
    best_before_on: date | None = None
    expiry_on: date | None = None
    pieces: int | None = None
    articles: int | None = None
    measures: tuple[Measure, ...] = ()
    supplier_item_code: str | None = None
    our_item_code: str | None = None
    our_order_code: str | None = None


def delivered(elements: ElementString, *, reference_year: int) -> Delivered:
    """The plain fields of an element string.

    Args:
        elements: As read; whatever a receipt has no use for is left out.
        reference_year: The present year, for the century of days.
    """

    def day(ai: str) -> date | None:
        value = elements.value(ai)
        return gs1_date(value[:6], reference_year=reference_year) if value else None

    def number(ai: str) -> int | None:
        value = elements.value(ai)
        return int(value) if value else None

    return Delivered(
        gtin=elements.value("01") or elements.value("02"),
        sscc=elements.value("00"),
        lot_code=elements.value("10"),
        serial=elements.value("21"),
        made_on=day("11"),
        packed_on=day("13"),
        best_before_on=day("15"),
        expiry_on=day("17") or day("7003"),
        pieces=number("30"),
        articles=number("37"),
        measures=_measures(elements),
        supplier_item_code=elements.value("240"),
        our_item_code=elements.value("241"),
        our_order_code=elements.value("400"),
    )


def measure_of(element: Element) -> Measure | None:
    """The net amount that an element says; None if it says another thing."""
    if len(element.ai) != 4 or element.ai[:3] not in _UNITS:  # noqa: PLR2004 - a measure's code
        return None
    unit, factor = _UNITS[element.ai[:3]]
    return Measure(element.number * factor, unit)


def _measures(elements: ElementString) -> tuple[Measure, ...]:
    found = map(measure_of, elements.elements)
    return tuple(measure for measure in found if measure is not None)
