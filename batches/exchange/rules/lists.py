"""Kinds of cells that hold several things, parted by semicolons: `SHORT:3; FLASH:1@M1-2`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any, Final, NamedTuple

from batches.exchange.rules.kinds import (
    Clock,
    Holds,
    Kind,
    Mention,
    read_code,
    share,
    whole,
)
from shopfloor.errors import InvalidInputError
from shopfloor.money import parse_money
from shopfloor.numerals import parse_number
from shopfloor.units import UNITS

GRADES: Final = ("first", "second", "sample")
FACTOR_NAME_LENGTH_MAX: Final = 40
FACTOR_VALUE_LENGTH_MAX: Final = 60

_NO_CLOCK: Any = None  # none of the kinds used here asks it

# The pictogram codes of the UN's Globally Harmonized System, annex 1.
_PICTOGRAM: Final = re.compile(r"GHS0[1-9]")
_AMOUNT: Final = r"(?P<amount>[0-9.]+)(?:\s*(?P<unit>[A-Za-z_]+))?"
# A number as people write it, in a list of things parted by semicolons.
_NUMBER: Final = (
    "(?P<number>[0-9][0-9.,'’ \u00a0\u202f]*?)"  # noqa: RUF001 - marks of thousands
    r"(?=\s*(?:[A-Za-z_]+)?\s*(?:@[^;]*)?(?:;|$))"
)
_IN_RESULTS: Final = re.compile(rf"(?:^|;)\s*-?{_NUMBER}")
_AFTER_COLON: Final = re.compile(rf"(?:^|[;:])\s*{_NUMBER}")
_AFTER_EQUALS: Final = re.compile(rf"=\s*{_NUMBER}")
_RESULT: Final = re.compile(
    r"(?:(?P<failed>\d{1,7})\s*/\s*(?P<tested>\d{1,7})|(?P<value>[-+0-9.]+))"
    r"\s*(?:@(?P<equipment>\S+))?",
    re.ASCII,
)
_TALLY: Final = re.compile(rf"(?:(?P<name>[^:@=]+):)?\s*{_AMOUNT}\s*(?:@(?P<equipment>\S+))?")
_LOT: Final = re.compile(
    rf"(?:(?P<by>batch|item):)?(?P<code>[^:@=/]+)(?:/(?P<grade>\w+))?(?:=\s*{_AMOUNT})?"
)


class Tally(NamedTuple):
    """Pieces, or an amount of a mixture, good of a grade or scrapped for a reason.

    Attributes:
        name: The grade (empty: that of the row) or the scrap reason.
        unit: Empty: pieces.
        equipment: The cavity or station, if known.
    """

    name: str
    amount: Decimal
    unit: str
    equipment: str


class Result(NamedTuple):
    """What a check found: so many of some pieces failed, or the value of one piece.

    Attributes:
        equipment: The cavity or station, if known.
    """

    failed: int | None
    tested: int | None
    value: Decimal | None
    equipment: str


class Written(NamedTuple):
    """An amount with its unit; empty: pieces."""

    amount: Decimal
    unit: str


class LotUsed(NamedTuple):
    """A lot that was taken.

    Attributes:
        by: `lot` for its code; `batch` for what that batch made; `item` for the lots of an item,
            first expired first.
        code: Of the lot, batch or item.
        grade: Of what the batch made.
        amount: How much; None: as the bill asks.
        unit: Empty: pieces.
    """

    by: str
    code: str
    grade: str = GRADES[0]
    amount: Decimal | None = None
    unit: str = ""


def tallies(*, of_scrap: bool) -> Kind:
    """Good pieces by grade, or scrapped ones by reason; by cavity or station where known."""
    words = "`reason:pieces`" if of_scrap else "pieces, or `grade:pieces`"

    def read(part: str) -> Tally:
        found = _TALLY.fullmatch(part)
        if found is None or (of_scrap and not found["name"]):
            like = "SHORT:3 or SHORT:3@M1-2" if of_scrap else "170 or second:5 or 85@M1-2"
            raise InvalidInputError(f"Write {like}; several with a semicolon between.")
        name = (found["name"] or "").strip()
        return Tally(
            name=read_code(name) if of_scrap else _grade(name),
            amount=_amount(found),
            unit=_unit(found),
            equipment=read_code(found["equipment"]) if found["equipment"] else "",
        )

    def mentions(value: Iterable[Tally]) -> Iterable[Mention]:
        for tally in value:
            if of_scrap:
                yield Mention("scrap_reasons", tally.name)
            if tally.equipment:
                yield Mention("equipment", tally.equipment)

    return Kind(
        f"{words}, with `@` a cavity or station; a mixture with its unit, like `250 g`",
        lambda cell, _: tuple(tally for tally in map(read, _parts(cell)) if tally.amount),
        mentions,
        holds=Holds.NUMBER,
        numbers=_AFTER_COLON,
    )


def results() -> Kind:
    """What a check found."""

    def read(part: str) -> Result:
        found = _RESULT.fullmatch(part)
        if found is None:
            raise InvalidInputError(
                "Write 1/32, the failed of the tested pieces, or a value like 4.31; with @ the "
                "cavity or station; several with a semicolon between."
            )
        value = _value(found["value"]) if found["value"] else None
        return Result(
            failed=int(found["failed"]) if value is None else None,
            tested=int(found["tested"]) if value is None else None,
            value=value,
            equipment=read_code(found["equipment"]) if found["equipment"] else "",
        )

    def mentions(value: Iterable[Result]) -> Iterable[Mention]:
        return [Mention("equipment", each.equipment) for each in value if each.equipment]

    return Kind(
        "`failed/tested` pieces or flaws, or of a measured check a value a piece; with `@` a cavity"
        " or station",
        lambda cell, _: tuple(map(read, _parts(cell))),
        mentions,
        numbers=_IN_RESULTS,
    )


def written_amount() -> Kind:
    """An amount with its unit in one cell; pieces need none."""

    def read(cell: str, _: Clock) -> Written:
        found = re.fullmatch(_AMOUNT, cell)
        if found is None or not _amount(found):
            raise InvalidInputError("Write pieces like 170, or an amount like 250 g, above zero.")
        return Written(_amount(found), _unit(found))

    words = "pieces, or of a mixture an amount like `250 g`"
    return Kind(words, read, holds=Holds.NUMBER, numbers=_AFTER_COLON)


def lots_used() -> Kind:
    """The lots that a run took."""

    def read(part: str) -> LotUsed:
        found = _LOT.fullmatch(part)
        if found is None or (found["grade"] and found["by"] != "batch"):
            raise InvalidInputError(
                "Write a lot like PAINT-7 or PAINT-7=0.5 L, batch:26-113 for what a batch made,"
                " or item:REGRIND=2 kg."
            )
        amount = _amount(found) if found["amount"] else None
        if amount == 0:
            raise InvalidInputError("The amount must be above zero. Leave out what was not used.")
        return LotUsed(
            by=found["by"] or "lot",
            code=read_code(found["code"].strip()),
            grade=_grade(found["grade"] or GRADES[0]),
            amount=amount,
            unit=_unit(found),
        )

    return Kind(
        "lots, `LOT` or `LOT=amount unit`; for a lot also `batch:CODE` (what that batch made, "
        "`batch:CODE/second` of that grade) or `item:CODE` (that item's lots, first expired first)",
        lambda cell, _: tuple(map(read, _parts(cell))),
        lambda value: [lot_mention(used) for used in value],
        numbers=_AFTER_EQUALS,
    )


def lot() -> Kind:
    """One lot, by its code or by the batch that made it."""

    def read(cell: str, _: Clock) -> LotUsed:
        found = _LOT.fullmatch(cell)
        is_wrong = found is None or found["amount"] or found["by"] == "item"
        if found is None or is_wrong or (found["grade"] and not found["by"]):
            raise InvalidInputError("Write a lot's code, or batch:26-113 for what a batch made.")
        grade = _grade(found["grade"] or GRADES[0])
        return LotUsed(found["by"] or "lot", read_code(found["code"].strip()), grade)

    return Kind(
        "a lot's code, or `batch:CODE` (what that batch made; `batch:CODE/second` of that grade)",
        read,
        lambda value: [lot_mention(value)],
    )


def lot_mention(used: LotUsed) -> Mention:
    """The code that a lot is named by, and where it stands."""
    return Mention({"lot": "lots", "batch": "runs", "item": "items"}[used.by], used.code)


def codes(sheet: str) -> Kind:
    """Several codes of another sheet."""
    return Kind(
        f"codes of `{sheet}`",
        lambda cell, _: tuple(map(read_code, _parts(cell))),
        lambda value: [Mention(sheet, each) for each in value],
    )


def pictograms() -> Kind:
    """GHS pictograms of a safety data sheet."""

    def read(cell: str, _: Clock) -> tuple[str, ...]:
        parts = tuple(_parts(cell))
        if not all(map(_PICTOGRAM.fullmatch, parts)):
            raise InvalidInputError(
                "A pictogram has a code from GHS01 to GHS09. Copy it from the safety data sheet."
            )
        return parts

    return Kind("codes from `GHS01` to `GHS09`", read)


def factors() -> Kind:
    """Circumstances by name."""

    def read(cell: str, _: Clock) -> dict[str, str]:
        pairs = [_pair(part, "=", "humidity=48") for part in _parts(cell)]
        for name, value in pairs:
            if len(name) > FACTOR_NAME_LENGTH_MAX or len(value) > FACTOR_VALUE_LENGTH_MAX:
                raise InvalidInputError(
                    f"A name has at most {FACTOR_NAME_LENGTH_MAX} characters, a value "
                    f"{FACTOR_VALUE_LENGTH_MAX}."
                )
        return _once(pairs)

    return Kind("circumstances, `name=value`", read)


def alternatives() -> Kind:
    """Items that may stand in, each with its largest share."""
    return Kind(
        "`ITEM:share`, the share above 0, at most 1",
        _named(share(with_one=True).read, "REGRIND:0.25"),
        _items_mentioned,
        numbers=_AFTER_COLON,
    )


def item_prices() -> Kind:
    """What one of each item costs."""
    read = _named(_price, "LURE-7:6.50")
    return Kind("`ITEM:price`", read, _items_mentioned, numbers=_AFTER_COLON)


def price_breaks() -> Kind:
    """Price of a pack from a number of packs on."""

    def read(cell: str, clock: Clock) -> dict[int, int]:
        pairs = [_pair(part, ":", "1:45.00; 5:40.00") for part in _parts(cell)]
        packs = whole("number of packs", 1).read
        return _once([(packs(key, clock), _price(value, clock)) for key, value in pairs])

    words = "`packs:price of a pack` from so many packs on, like `1:45.00; 5:40.00`"
    return Kind(words, read, numbers=_AFTER_COLON)


def _named(read: Callable[[str, Clock], Any], like: str) -> Callable[[str, Clock], dict[str, Any]]:
    def read_all(cell: str, clock: Clock) -> dict[str, Any]:
        pairs = [_pair(part, ":", like) for part in _parts(cell)]
        return _once([(read_code(key), read(value, clock)) for key, value in pairs])

    return read_all


def _items_mentioned(value: dict[str, Any]) -> list[Mention]:
    return [Mention("items", item) for item in value]


def _price(cell: str, _: Clock) -> int:
    return parse_money(cell)


def _value(text: str) -> Decimal:
    """As many digits as are kept of what a check measures."""
    value = parse_number(text, what="value", allow_negative=True)
    if abs(value) >= 10**9 or round(value, 5) != value:
        raise InvalidInputError("A value has at most 9 digits before the point and 5 after it.")
    return value


def _parts(cell: str) -> list[str]:
    parts = [part.strip() for part in cell.split(";")]
    return [part for part in parts if part]


def _pair(part: str, sign: str, like: str) -> tuple[str, str]:
    key, found, value = part.partition(sign)
    if not (found and key.strip() and value.strip()):
        raise InvalidInputError(f"Write {like}; several with a semicolon between.")
    return key.strip(), value.strip()


def _once(pairs: list[tuple[Any, Any]]) -> dict[Any, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise InvalidInputError("The same stands twice in it. Name each once.")
    return found


def _grade(word: str) -> str:
    if word and word.lower() not in GRADES:
        raise InvalidInputError(f"A grade is one of: {', '.join(GRADES)}.")
    return word.lower()


def _amount(found: re.Match[str]) -> Decimal:
    return parse_number(found["amount"], what="amount")


def _unit(found: re.Match[str]) -> str:
    unit = found["unit"] or ""
    if unit and unit not in UNITS:
        raise InvalidInputError(f"There is no unit “{unit}”. Use one of: {', '.join(UNITS)}.")
    return unit
