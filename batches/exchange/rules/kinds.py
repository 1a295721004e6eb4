"""Kinds of cells: how each is written, read and refused; those of several parts are in `lists.py`.

Every reader takes a trimmed, filled cell and refuses with a sentence that says what would be right.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from shopfloor.codes.alphabet import own_code
from shopfloor.codes.gs1 import checked_gtin
from shopfloor.errors import InvalidInputError
from shopfloor.money import parse_money
from shopfloor.numerals import parse_number
from shopfloor.units import UNITS

YEAR_MIN: Final = 2000
YEAR_MAX: Final = 2099
WHOLE_MAX: Final = 10**9
CODE_LENGTH_MAX: Final = 60

_CODE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_USERNAME: Final = re.compile(r"[a-z0-9][a-z0-9._-]{0,39}")
_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MOMENT: Final = re.compile(
    r"(?P<local>\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?)(?P<offset>Z|[+-]\d\d:\d\d)?", re.ASCII
)
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_WHOLE_CELL: Final = re.compile(r"(?P<number>.+)", re.DOTALL)


class Holds(StrEnum):
    """What a spreadsheet would keep such a cell as."""

    WORDS = "words"
    NUMBER = "number"
    DAY = "day"
    MOMENT = "moment"
    FLAG = "flag"


@dataclass(frozen=True, slots=True)
class Clock:
    """The shop's zone, for times written without one, and the moment of the import."""

    zone: ZoneInfo
    now: datetime


class Mention(NamedTuple):
    """A code that a cell names, and the sheet that it stands in."""

    sheet: str
    code: str


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of cell.

    Attributes:
        words: How it is written, for docs/import.md.
        read: The value in a trimmed, filled cell; refuses with `InvalidInputError`.
        mentions: The codes that a value names.
        holds: What a spreadsheet would keep it as.
        numbers: Finds the numbers in it, each in the group `number`, whatever their decimal mark.
        choices: The only words that it may hold, if there are only some.
    """

    words: str
    read: Callable[[str, Clock], Any]
    mentions: Callable[[Any], Iterable[Mention]] = lambda _: ()
    holds: Holds = Holds.WORDS
    numbers: re.Pattern[str] | None = None
    choices: tuple[str, ...] = ()


def _number_kind(words: str, read: Callable[[str, Clock], Any]) -> Kind:
    return Kind(words, read, holds=Holds.NUMBER, numbers=_WHOLE_CELL)


def text(length: int, *, lines: bool = False) -> Kind:
    """Words; `lines`: they may stand in several."""

    def read(cell: str, _: Clock) -> str:
        kept = cell.replace("\r\n", "\n")
        if _CONTROL.search(kept.replace("\n", "") if lines else kept):
            raise InvalidInputError("There is a line break or another unseen character in it.")
        if len(kept) > length:
            raise InvalidInputError(
                f"It has {len(kept)} characters; {length} is the most that is kept."
            )
        return kept

    return Kind(f"words, at most {length} characters", read)


def code() -> Kind:
    """A code that the shop gives."""
    return Kind("a code of your own: A-Z, 0-9, hyphen, point", lambda cell, _: own_code(cell))


def read_code(cell: str) -> str:
    """A code that stands somewhere, in upper case.

    Raises:
        InvalidInputError: a character no code has.
    """
    if len(cell) > CODE_LENGTH_MAX or not _CODE.fullmatch(cell):
        raise InvalidInputError("A code has no spaces: letters, digits, hyphens and points alone.")
    return cell.upper()


def ref(sheet: str, words: str = "") -> Kind:
    """The code of something that stands in another sheet or in the shop."""
    return Kind(
        words or f"a code of `{sheet}`",
        lambda cell, _: read_code(cell),
        lambda value: [Mention(sheet, value)],
    )


def username() -> Kind:
    """A sign-in name that the shop gives."""

    def read(cell: str, _: Clock) -> str:
        if not _USERNAME.fullmatch(cell.lower()):
            raise InvalidInputError(
                "A sign-in name has 1 to 40 letters a to z, digits, dots, dashes and underscores."
            )
        return cell.lower()

    return Kind("a sign-in name: a-z, 0-9, `.` `-` `_`", read)


def gtin() -> Kind:
    """The number of an article in the GS1 system."""
    return Kind("8, 12, 13 or 14 digits", lambda cell, _: checked_gtin(cell))


def person() -> Kind:
    """A sign-in name."""
    return Kind(
        "a username of `people`",
        lambda cell, _: read_code(cell).lower(),
        lambda value: [Mention("people", value)],
    )


def choice(*values: str) -> Kind:
    """One of a few words."""
    spelled = {value.lower(): value for value in values}

    def read(cell: str, _: Clock) -> str:
        if cell.lower() not in spelled:
            raise InvalidInputError(f"Use one of: {', '.join(values)}.")
        return spelled[cell.lower()]

    words = "one of " + ", ".join(f"`{value}`" for value in values)
    return Kind(words, read, choices=values)


def choice_of_numbers(*values: str) -> Kind:
    """One of a few numbers: a spreadsheet writes 1 for 1.0."""

    def read(cell: str, _: Clock) -> str:
        found = [value for value in values if Decimal(value) == parse_number(cell, what="number")]
        if not found:
            raise InvalidInputError(f"Use one of: {', '.join(values)}.")
        return found[0]

    words = "one of " + ", ".join(f"`{value}`" for value in values)
    return _number_kind(words, read)


def flag() -> Kind:
    """Yes or no."""

    def read(cell: str, _: Clock) -> bool:
        if cell.lower() not in {"yes", "no"}:
            raise InvalidInputError("Write yes or no.")
        return cell.lower() == "yes"

    return Kind("`yes` or `no`", read, holds=Holds.FLAG, choices=("yes", "no"))


def whole(what: str, low: int = 0, high: int = WHOLE_MAX) -> Kind:
    """A whole number of a range."""

    def read(cell: str, _: Clock) -> int:
        value = parse_number(cell, what=what)
        if value != value.to_integral_value() or not low <= value <= high:
            raise InvalidInputError(f"The {what} is a whole number from {low} to {high}.")
        return int(value)

    return _number_kind(f"a whole number from {low} to {high}", read)


def number(what: str) -> Kind:
    """A number above zero."""

    def read(cell: str, _: Clock) -> Decimal:
        value = parse_number(cell, what=what)
        if not value:
            raise InvalidInputError(f"The {what} must be above zero.")
        return value

    return _number_kind("a number above zero, like 12.5", read)


def limit(what: str) -> Kind:
    """A number, which may lie below zero."""
    return _number_kind(
        "a number, like 4.05 or -0.5",
        lambda cell, _: parse_number(cell, what=what, allow_negative=True),
    )


def amount() -> Kind:
    """An amount in the unit that another column names."""
    return number("amount")


def unit() -> Kind:
    """A unit that people write amounts in."""

    def read(cell: str, _: Clock) -> str:
        if cell not in UNITS:
            raise InvalidInputError(f"There is no such unit. Use one of: {', '.join(UNITS)}.")
        return cell

    return Kind("a unit, like `kg`, `mL`, `each`", read, choices=tuple(UNITS))


def share(*, with_one: bool = False) -> Kind:
    """A share, 0 to below 1, or above 0 to 1."""
    words = "a share above 0, at most 1" if with_one else "a share from 0 to below 1"

    def read(cell: str, _: Clock) -> Decimal:
        value = parse_number(cell, what="share")
        if not (0 < value <= 1 if with_one else 0 <= value < 1):
            raise InvalidInputError(f"Write {words}: 5 % is 0.05.")
        return value

    return _number_kind(f"{words}, like 0.05", read)


def money() -> Kind:
    """A price or value in the shop's currency; read to millionths."""
    return _number_kind("an amount of money, like 12.50", lambda cell, _: parse_money(cell))


def day(*, future: bool = False) -> Kind:
    """The shop's day; `future`: it may still come."""

    def read(cell: str, clock: Clock) -> date:
        if not _DAY.fullmatch(cell):
            raise InvalidInputError("Write the day as year-month-day, like 2026-03-01.")
        value: date = _calendar(date.fromisoformat, cell)
        today = clock.now.astimezone(clock.zone).date()
        if not future and value > today:
            raise InvalidInputError(f"The day lies in the future; today is {today.isoformat()}.")
        return value

    return Kind("a day, like 2026-03-01", read, holds=Holds.DAY)


def moment() -> Kind:
    """A moment that has come: with an offset, or in the shop's zone."""

    def read(cell: str, clock: Clock) -> datetime:
        found = _MOMENT.fullmatch(cell)
        if found is None:
            raise InvalidInputError("Write day and time like 2026-03-01 14:30.")
        value: datetime = _calendar(datetime.fromisoformat, cell)
        if found["offset"] is None:
            value = _in_zone(value, clock.zone)
        if value > clock.now:
            now = clock.now.astimezone(clock.zone).strftime("%Y-%m-%d %H:%M")
            raise InvalidInputError(f"The time lies in the future; now it is {now}.")
        return value

    words = "day and time, like 2026-03-01 14:30, in the shop's zone"
    return Kind(words, read, holds=Holds.MOMENT)


def _calendar(parse: Callable[[str], Any], cell: str) -> Any:
    try:
        value = parse(cell)
    except ValueError as error:
        raise InvalidInputError("There is no such day or time in the calendar.") from error
    if not YEAR_MIN <= value.year <= YEAR_MAX:
        raise InvalidInputError(f"The year lies outside {YEAR_MIN} to {YEAR_MAX}.")
    return value


def _in_zone(local: datetime, zone: ZoneInfo) -> datetime:
    early, late = local.replace(tzinfo=zone, fold=0), local.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early
    # A time that the clocks skipped comes back as another one.
    if early.astimezone(ZoneInfo("UTC")).astimezone(zone).replace(tzinfo=None) != local:
        raise InvalidInputError("The clocks skipped this time that day. Write another.")
    raise InvalidInputError(
        "The clocks showed this time twice that day. Add the offset, like "
        f"{early.isoformat(sep=' ', timespec='minutes')}."
    )
