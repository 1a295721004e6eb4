"""What an element says, in words that a person reads: a day as a day, a weight with its unit."""

from __future__ import annotations

from typing import NamedTuple

from shopfloor.codes.gs1.dates import gs1_date
from shopfloor.codes.gs1.deliveries import measure_of
from shopfloor.codes.gs1.elements import Element, ElementString

_COUNTS = frozenset({"30", "37"})
_DAY_RULES = frozenset({"yymmd0", "yymmdd"})


class ReadElement(NamedTuple):
    """One element, for people: identifier, its title, its data, and what the data mean."""

    ai: str
    title: str
    value: str
    words: str


def read_words(elements: ElementString, *, reference_year: int) -> list[ReadElement]:
    """Every element in its order.

    Args:
        elements: As read.
        reference_year: The present year, for the century of days.
    """
    return [
        ReadElement(
            element.ai,
            element.identifier.title,
            element.value,
            _words(element, reference_year=reference_year),
        )
        for element in elements.elements
    ]


def _words(element: Element, *, reference_year: int) -> str:
    if measure := measure_of(element):
        return f"{measure.amount:f} {measure.unit}"
    if element.ai in _COUNTS:
        return str(int(element.value))
    if element.identifier.decimals is not None:
        return f"{element.number:f}"
    if _DAY_RULES & set(element.identifier.parts[0].rules):
        day = gs1_date(element.value[:6], reference_year=reference_year)
        return f"{day.isoformat()} {element.value[6:]}".strip()
    return element.value
