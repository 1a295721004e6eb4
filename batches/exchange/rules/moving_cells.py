"""How one cell of a moved shop is written: one spelling for each value, and nothing lost.

A cell is read by `read` and must come out of `write` as it stood, so that a shop that moved there
and back makes the same files, byte for byte.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from ipaddress import ip_address
from typing import Any, Final, NamedTuple

DIGITS_MAX: Final = 15
"""Digits of a decimal that SQLite keeps exactly."""


class CellKind(NamedTuple):
    """What a cell of a column holds.

    Attributes:
        words: What it is, for a person: "a whole number from 0 to 9".
        read: The value of a cell; ValueError where it is none.
        write: The one spelling of a value.
    """

    words: str
    read: Callable[[str], Any]
    write: Callable[[Any], str]


def whole_number(lowest: int, highest: int) -> CellKind:
    """A whole number of digits alone."""

    def read(cell: str) -> int:
        value = int(cell)
        if lowest <= value <= highest:
            return value
        raise ValueError

    return CellKind(f"a whole number from {lowest} to {highest}", read, str)


def text(length_max: int | None) -> CellKind:
    """Words, as they stand: a formula, spaces at the end and line ends too."""

    def read(cell: str) -> str:
        if "\0" in cell or (length_max is not None and len(cell) > length_max):
            raise ValueError
        return cell

    at_most = "" if length_max is None else f" of at most {length_max} characters"
    return CellKind(f"words{at_most} without a zero character", read, str)


def one_of(words: frozenset[str]) -> CellKind:
    """One of a few words; one of them may be the empty one."""

    def read(cell: str) -> str:
        if cell in words:
            return cell
        raise ValueError

    named = ", ".join(word or "nothing" for word in sorted(words))
    return CellKind(f"one of: {named}", read, str)


def decimal(*, digits: int, places: int) -> CellKind:
    """A number with so many digits after its point."""

    def read(cell: str) -> Decimal:
        try:
            value = Decimal(cell)
        except InvalidOperation as error:
            raise ValueError from error
        if not value.is_finite() or len(value.normalize().as_tuple().digits) > DIGITS_MAX:
            raise ValueError
        if value.adjusted() >= digits - places:
            raise ValueError
        return value

    return CellKind(
        f"a number with {places} digits after its point, at most {digits - places} before it, and "
        f"at most {DIGITS_MAX} that are not zeros around them",
        read,
        lambda value: f"{value:.{places}f}",
    )


def _read_yes_no(cell: str) -> bool:
    if cell not in {"yes", "no"}:
        raise ValueError
    return cell == "yes"


def _read_address(cell: str) -> str:
    ip_address(cell)
    return cell


def _write_moment(value: datetime) -> str:
    return value.isoformat(timespec="microseconds").removesuffix("+00:00") + "Z"


def _read_moment(cell: str) -> datetime:
    return datetime.fromisoformat(cell.removesuffix("Z")).replace(tzinfo=UTC)


def _read_json(cell: str) -> Any:
    return json.loads(cell, parse_constant=_no_number)


def _no_number(word: str) -> None:
    raise ValueError(word)  # NaN and the infinities are not JSON, whatever Python thinks


def _write_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


YES_NO: Final = CellKind("yes or no", _read_yes_no, lambda value: "yes" if value else "no")
DAY: Final = CellKind("a day, like 2026-03-01", date.fromisoformat, date.isoformat)
MOMENT: Final = CellKind(
    "a time in UTC with microseconds, like 2026-03-01T14:30:00.000000Z",
    _read_moment,
    _write_moment,
)
IP_ADDRESS: Final = CellKind("an address of a network, like 192.0.2.1", _read_address, str)
JSON: Final = CellKind("JSON with sorted names and no spaces between them", _read_json, _write_json)
