"""How one cell of a moved shop is written: one spelling for each value, and nothing lost.

So a shop that moved there and back makes the same files, byte for byte, and a cell that was checked
can go into a database as it stands.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from ipaddress import ip_address
from typing import Any, Final, NamedTuple

DIGITS_MAX: Final = 15
"""Digits of a decimal that SQLite keeps exactly."""


class CellKind(NamedTuple):
    """What a cell of a column holds.

    Attributes:
        words: What it is, for a person: "a whole number from 0 to 9".
        check: ValueError unless a cell is the one spelling of a value.
        write: The one spelling of a value.
    """

    words: str
    check: Callable[[str], object]
    write: Callable[[Any], str]


def whole_number(lowest: int, highest: int) -> CellKind:
    """A whole number of digits alone."""

    def check(cell: str) -> None:
        value = int(cell)
        if not lowest <= value <= highest or str(value) != cell:
            raise ValueError

    return CellKind(f"a whole number from {lowest} to {highest}", check, str)


def text(length_max: int | None) -> CellKind:
    """Words, as they stand: a formula, spaces at the end and line ends too."""

    def check(cell: str) -> None:
        if "\0" in cell or (length_max is not None and len(cell) > length_max):
            raise ValueError

    at_most = "" if length_max is None else f" of at most {length_max} characters"
    return CellKind(f"words{at_most} without a zero character", check, str)


def one_of(words: frozenset[str]) -> CellKind:
    """One of a few words; one of them may be the empty one."""

    def check(cell: str) -> None:
        if cell not in words:
            raise ValueError

    named = ", ".join(word or "nothing" for word in sorted(words))
    return CellKind(f"one of: {named}", check, str)


def decimal(*, digits: int, places: int) -> CellKind:
    """A number with so many digits after its point, `digits` in all."""

    def write(value: Decimal) -> str:
        return f"{value:.{places}f}"

    def check(cell: str) -> None:
        try:
            value = Decimal(cell)
        except InvalidOperation as error:
            raise ValueError from error
        if not value.is_finite() or write(value) != cell or value.adjusted() >= digits - places:
            raise ValueError
        if len(value.normalize().as_tuple().digits) > DIGITS_MAX:
            raise ValueError

    words = (
        f"a number with {places} digits after its point, at most {digits - places} before it, and"
        f" at most {DIGITS_MAX} from its first to its last that is not 0"
    )
    return CellKind(words, check, write)


def _write_yes_no(value: bool) -> str:  # noqa: FBT001 - the value itself
    return "yes" if value else "no"


def _check_day(cell: str) -> None:
    if date.fromisoformat(cell).isoformat() != cell:
        raise ValueError


def _write_moment(value: datetime) -> str:
    return value.isoformat(timespec="microseconds").removesuffix("+00:00") + "Z"


def _check_moment(cell: str) -> None:
    if _write_moment(datetime.fromisoformat(cell.removesuffix("Z"))) != cell:
        raise ValueError


def _write_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _check_json(cell: str) -> None:
    # What is not there is an empty cell.
    if cell == "null" or _write_json(json.loads(cell, parse_constant=_no_number)) != cell:
        raise ValueError


def _no_number(word: str) -> None:
    raise ValueError(word)  # NaN and the infinities are not JSON, whatever Python thinks


YES_NO: Final = one_of(frozenset({"yes", "no"}))._replace(write=_write_yes_no)
DAY: Final = CellKind("a day, like 2026-03-01", _check_day, date.isoformat)
MOMENT: Final = CellKind(
    "a time in UTC with microseconds, like 2026-03-01T14:30:00.000000Z",
    _check_moment,
    _write_moment,
)
IP_ADDRESS: Final = CellKind("an address of a network, like 192.0.2.1", ip_address, str)
JSON: Final = CellKind(
    "JSON with sorted names and no spaces between them", _check_json, _write_json
)
