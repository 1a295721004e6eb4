"""Questions at random that go deep: where a door wants a code, most often one that stands.

What a random text finds is `not_found`, again and again; what lies behind is asked by nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from random import Random
from typing import Any, Final

# Names of fields and query parameters, and the list whose codes they take.
LISTS: Final = {
    "batch": "batches",
    "box": "boxes",
    "boxes": "boxes",
    "colorway": "colorways",
    "customer": "customers",
    "equipment": "equipment",
    "item": "items",
    "lot": "lots",
    "lots": "lots",
    "model": "models",
    "place": "places",
    "posting": "postings",
    "receipt": "receipts",
    "scrap_reason": "scrap-reasons",
    "shipment": "shipments",
    "stage": "stages",
    "storage_place": "places",
    "supplier": "suppliers",
    "username": "people",
}
ORDERS: Final = ("supplier-orders", "customer-orders")
NUMBERS: Final = ("1", "2", "24", "0.5", "1000000", "0", "99999999999999")
UNITS: Final = ("each", "g", "kg", "mL")
KNOWN_IN_TEN: Final = 8

Codes = Mapping[str, list[str]]


def codes_of(rows: Iterable[Mapping[str, Any]]) -> list[str]:
    """What the rows of a list are called, if they have a name."""
    names = ("code", "username", "id", "item")
    called = (next((row[name] for name in names if name in row), None) for row in rows)
    return [str(name) for name in called if name is not None]


def mixed(value: Any, dice: Random, codes: Codes, *, name: str = "") -> Any:
    """A body or a query with codes that stand, and amounts in units that often fit.

    Args:
        value: As it was drawn.
        dice: Says where.
        codes: By list.
        name: Of the field whose value it is.
    """
    if isinstance(value, dict):
        return {key: mixed(inner, dice, codes, name=key) for key, inner in value.items()}
    if isinstance(value, list):
        return [mixed(inner, dice, codes, name=name) for inner in value]
    if not isinstance(value, str) or dice.randrange(10) >= KNOWN_IN_TEN:
        return value
    return dice.choice(_likely(name, dice, codes) or [value])


def in_address(parameters: Mapping[str, Any], path: str, dice: Random, codes: Codes) -> Any:
    """The parts of an address that vary: those of `lots/{code}/` are codes of lots."""
    likely = codes.get(path.partition("/")[0], [])

    def part(name: str, value: Any) -> Any:
        is_code = likely and name != "number"  # that of a revision
        return dice.choice(likely) if is_code and dice.randrange(10) < KNOWN_IN_TEN else value

    return {name: part(name, value) for name, value in parameters.items()}


def _likely(name: str, dice: Random, codes: Codes) -> list[str]:
    if name == "order":
        return codes.get(dice.choice(ORDERS), [])
    if name == "amount":
        return list(NUMBERS)
    if name == "unit":
        return list(UNITS)
    if name == "code":  # of what is made new, or of anything that is scanned
        return codes.get(dice.choice(sorted(codes)), [])
    return codes.get(LISTS.get(name, ""), [])
