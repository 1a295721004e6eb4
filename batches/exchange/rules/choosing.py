"""What only a whole sheet can tell: the decimal mark of its numbers, the order of its dates.

A cell that can be read in one way alone tells how all of them are written. Where none does, or two
disagree, nothing is guessed: the answer asks.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from batches.exchange.rules.writing import DATES, DECIMALS

_BLANKS: Final = " \u00a0\u202f"
_THOUSANDS: Final = {"point": f",'’{_BLANKS}", "comma": f".'’{_BLANKS}"}  # noqa: RUF001
_MARK: Final = {"point": r"\.", "comma": ","}
_NUMBERS: Final = {
    choice: re.compile(
        rf"(?P<sign>[+-]?)(?P<whole>[1-9][0-9]{{0,2}}(?P<part>[{_THOUSANDS[choice]}])[0-9]{{3}}"
        rf"(?:(?P=part)[0-9]{{3}})*|[0-9]*)"
        rf"(?:{_MARK[choice]}(?P<decimals>[0-9]*))?(?P<exponent>[eE][+-]?[0-9]{{1,3}})?"
    )
    for choice in DECIMALS
}
_TIME: Final = (
    r"(?:[T ]\s*(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:\.0+)?)?"
    r"(?:\s*(?P<half>[AaPp])\.?[Mm]\.?)?\s*(?P<offset>Z|[+-][0-9]{2}:[0-9]{2})?)?"
)
_YEAR_FIRST: Final = re.compile(
    r"(?P<year>[0-9]{4})(?P<sign>[-/.])(?P<month>[0-9]{1,2})(?P=sign)(?P<day>[0-9]{1,2})" + _TIME
)
_YEAR_LAST: Final = re.compile(
    r"(?P<one>[0-9]{1,2})(?P<sign>[-/.])(?P<two>[0-9]{1,2})(?P=sign)(?P<year>[0-9]{4})" + _TIME
)
_MONTHS: Final = 12
_DAYS: Final = 31
_NOON: Final = 12
_NAMED_MAX: Final = 5


class Written(NamedTuple):
    """A number or a date as it stands in a cell."""

    row: int
    column: str
    text: str


@dataclass(frozen=True, slots=True)
class Choice:
    """Two ways in which a text can be meant.

    Attributes:
        option: What a person says who knows.
        ways: The two, as the person says them.
        words: The two in words.
        readings: What a text is in each way in which it is anything, as our sheets write it.
    """

    option: str
    ways: tuple[str, str]
    words: Mapping[str, str]
    readings: Callable[[str], Mapping[str, str]]


class Chosen(NamedTuple):
    """One way, or what stands against it.

    Attributes:
        way: Of the two; empty: no text asks for it.
        troubles: Texts that cannot be read so, or that leave it open, each with advice.
    """

    way: str
    troubles: list[tuple[Written, str]]


def number_readings(text: str) -> dict[str, str]:
    """The number by decimal mark, with a point and no thousands mark."""
    found = {way: _number(text, way) for way in DECIMALS}
    return {way: number for way, number in found.items() if number is not None}


def _number(text: str, way: str) -> str | None:
    found = _NUMBERS[way].fullmatch(text)
    if found is None or not (found["whole"] or found["decimals"]):
        return None
    if found["part"] and found["exponent"]:
        return None
    whole = "".join(filter(str.isdigit, found["whole"]))
    decimals = f".{found['decimals']}" if found["decimals"] else ""
    return f"{found['sign']}{whole or '0'}{decimals}{found['exponent'] or ''}"


def date_readings(text: str) -> dict[str, str]:
    """The day, with its time if it has one, by the order of day and month, as ISO 8601 has it."""
    if found := _YEAR_FIRST.fullmatch(text):
        day = _day(found, month=found["month"], day=found["day"])
        return dict.fromkeys(DATES, day)
    found = _YEAR_LAST.fullmatch(text)
    if found is None:
        return {}
    one, two = found["one"], found["two"]
    return {
        way: _day(found, month=month, day=day)
        for way, month, day in zip(DATES, (two, one), (one, two), strict=True)
        if 1 <= int(month) <= _MONTHS and 1 <= int(day) <= _DAYS
    }


def _day(found: re.Match[str], *, month: str, day: str) -> str:
    iso = f"{found['year']}-{int(month):02d}-{int(day):02d}"
    if found["hour"] is None:
        return iso
    hour = int(found["hour"])
    if found["half"]:
        # Noon is 12 p.m. and midnight 12 a.m.; 13 p.m. stays wrong.
        hour = hour % _NOON + (_NOON if found["half"] in "Pp" else 0) if hour <= _NOON else 99
    second = f":{found['second']}" if found["second"] else ""
    return f"{iso} {hour:02d}:{found['minute']}{second}{found['offset'] or ''}"


NUMBERS: Final = Choice(
    option="--decimals",
    ways=("point", "comma"),
    words={"point": "a decimal point", "comma": "a decimal comma"},
    readings=number_readings,
)
DAYS: Final = Choice(
    option="--dates",
    ways=("day-first", "month-first"),
    words={"day-first": "the day first", "month-first": "the month first"},
    readings=date_readings,
)


def chosen(choice: Choice, written: Iterable[Written], said: str) -> Chosen:
    """The one way in which all texts of a sheet can be read.

    Args:
        choice: What is to be told.
        written: Every number, or every date, of the sheet.
        said: What a person says; empty: nothing. It matters where something is left open.
    """
    telling: dict[str, list[Written]] = {way: [] for way in choice.ways}
    open_ones: list[tuple[Written, Mapping[str, str]]] = []
    for each in written:
        readings = choice.readings(each.text)
        if len(readings) == 1:
            telling[next(iter(readings))].append(each)
        elif len(set(readings.values())) > 1:
            open_ones.append((each, readings))
    told = [way for way in choice.ways if telling[way]]
    if len(told) == 1 and (said in {"", told[0]} or not open_ones):
        return Chosen(told[0], [])
    if said and (told or open_ones):
        (other,) = (way for way in choice.ways if way != said)
        return Chosen(said, _against(choice, said, telling[other]))
    if told:
        fewer, more = sorted(choice.ways, key=lambda way: len(telling[way]))
        return Chosen(more, _against(choice, more, telling[fewer], telling[more][0]))
    return Chosen("", _asking(choice, open_ones))


def _against(
    choice: Choice, way: str, others: list[Written], first: Written | None = None
) -> list[tuple[Written, str]]:
    because = f" “{first.text}” in row {first.row} tells" if first else ""
    advice = (
        f"The sheet is written with {choice.words[way]}{',' + because if because else ''}, and this"
        " is not. Write all of it in one way."
    )
    return [(each, advice) for each in others]


def _asking(
    choice: Choice, open_ones: list[tuple[Written, Mapping[str, str]]]
) -> list[tuple[Written, str]]:
    if not open_ones:
        return []
    (first, readings), *rest = open_ones
    also = ", ".join(f"row {each.row} “{each.text}”" for each, _ in rest[:_NAMED_MAX])
    more = len(rest) - _NAMED_MAX
    and_more = f" and {more} more" if more > 0 else ""
    meant = " or ".join(f"{readings[way]} with {choice.words[way]}" for way in choice.ways)
    options = " or ".join(f"{choice.option} {way}" for way in choice.ways)
    same = f" The same with {also}{and_more}." if also else ""
    return [(first, f"It can be {meant}, and nothing in the sheet tells.{same} Say {options}.")]
