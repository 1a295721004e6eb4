"""Any way of writing rows down reads to the same rows or is asked about, never to others."""

from __future__ import annotations

import csv
from datetime import date, datetime
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.exchange.rules.choosing import date_readings, number_readings
from batches.exchange.rules.reading import Reading, read_files
from batches.exchange.rules.writing import AS_OURS, DATES, DECIMALS, Writing
from tests.batches.exchange.small import CLOCK
from tests.batches.exchange.workbooks import workbook

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

HEADER = ["item", "amount", "unit", "at", "supplier_lot"]
THOUSANDS = {"point": ["", ",", "'", " ", "\u00a0"], "comma": ["", ".", "'", " ", "\u00a0"]}

amounts = st.decimals("0.001", "999999.999", places=3).map(lambda each: each.normalize())
days = st.dates(date(2001, 1, 1), date(2025, 12, 31))
words = st.text("abcXYZäöüéèñÅß ,;|'\"", max_size=12).map(str.strip)
rows_of_lots = st.lists(st.tuples(amounts, days, words), min_size=1, max_size=6)


def number_text(value: Decimal, decimals: str, thousands: str) -> str:
    whole, _, rest = f"{value:,f}".partition(".")
    mark = {"point": ".", "comma": ","}[decimals]
    return whole.replace(",", thousands) + (mark + rest if rest else "")


def date_text(day: date, dates: str, sign: str) -> str:
    parts = [day.day, day.month] if dates == "day-first" else [day.month, day.day]
    return sign.join(map(str, [*parts, day.year])) + " 10:00"


@st.composite
def dialects(draw: st.DrawFn) -> dict[str, Any]:
    decimals = draw(st.sampled_from(DECIMALS))
    return {
        "decimals": decimals,
        "thousands": draw(st.sampled_from(THOUSANDS[decimals])),
        "dates": draw(st.sampled_from(DATES)),
        "sign": draw(st.sampled_from("-/.")),
        "delimiter": draw(st.sampled_from(",;\t|")),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        "line_end": draw(st.sampled_from(["\n", "\r\n"])),
        "order": draw(st.permutations(range(len(HEADER)))),
    }


def written(rows: list[tuple[Decimal, date, str]], how: dict[str, Any]) -> bytes:
    file = StringIO()
    writer = csv.writer(file, delimiter=how["delimiter"], lineterminator=how["line_end"])
    cells = [
        [
            "A",
            number_text(amount, how["decimals"], how["thousands"]),
            "kg",
            date_text(day, how["dates"], how["sign"]),
            text,
        ]
        for amount, day, text in rows
    ]
    for row in [HEADER, *cells]:
        writer.writerow([row[place] for place in how["order"]])
    return file.getvalue().encode(how["encoding"])


def values(reading: Reading) -> list[tuple[Decimal, date, str]]:
    return [
        (row["amount"], row["at"].date(), row["supplier_lot"] or "")
        for row in reading.rows["opening_lots"]
    ]


def once(rows: list[tuple[Decimal, date, str]]) -> list[tuple[Decimal, date, str]]:
    return list(dict.fromkeys(rows))


def read(data: bytes, writing: Writing = AS_OURS, name: str = "opening_lots.csv") -> Reading:
    return read_files({name: data}, CLOCK, writing)


@given(rows=rows_of_lots.map(once), how=dialects())
def test_what_is_read_of_any_dialect_is_what_was_written_or_it_is_asked(
    rows: list[tuple[Decimal, date, str]], how: dict[str, Any]
) -> None:
    reading = read(written(rows, how))
    asked = [problem.advice for problem in reading.problems]
    assert [advice for advice in asked if "tells. " not in advice and "be told" not in advice] == []
    assert asked or values(reading) == rows


@given(rows=rows_of_lots.map(once), how=dialects())
def test_what_is_said_of_any_dialect_leaves_nothing_to_ask(
    rows: list[tuple[Decimal, date, str]], how: dict[str, Any]
) -> None:
    encoding = {"utf-8-sig": "utf-8", "cp1252": "windows-1252"}.get(
        how["encoding"], how["encoding"]
    )
    said = Writing(encoding=encoding, decimals=how["decimals"], dates=how["dates"])
    reading = read(written(rows, how), said)
    assert (reading.problems, values(reading)) == ([], rows)


@given(rows=rows_of_lots.map(once))
def test_a_workbook_reads_to_the_same_rows(rows: list[tuple[Decimal, date, str]]) -> None:
    cells = [
        ["A", float(amount), "kg", datetime.combine(day, CLOCK.now.time().replace(hour=10)), text]
        for amount, day, text in rows
    ]
    reading = read(workbook({"opening_lots": [HEADER, *cells]}), name="shop.xlsx")
    assert (reading.problems, values(reading)) == ([], rows)


@given(value=amounts, decimals=st.sampled_from(DECIMALS), place=st.integers(0, 4))
def test_a_number_is_never_read_as_another_in_the_way_it_was_written(
    value: Decimal, decimals: str, place: int
) -> None:
    text = number_text(value, decimals, THOUSANDS[decimals][place])
    assert Decimal(number_readings(text)[decimals]) == value


@given(text=st.text("0123456789.,' -+e", max_size=12))
def test_whatever_a_number_looks_like_it_is_read_as_one_or_not_at_all(text: str) -> None:
    readings = number_readings(text)
    assert set(readings) <= set(DECIMALS)
    assert all(Decimal(number).is_finite() for number in readings.values())


@given(day=days, dates=st.sampled_from(DATES), sign=st.sampled_from("-/."))
def test_a_date_is_never_read_as_another_in_the_way_it_was_written(
    day: date, dates: str, sign: str
) -> None:
    assert date_readings(date_text(day, dates, sign))[dates] == f"{day.isoformat()} 10:00"


@given(data=st.binary(max_size=300))
def test_no_bytes_break_the_reading(data: bytes) -> None:
    assert isinstance(read(data), Reading)


PLAIN = workbook({"opening_lots": [HEADER, ["A", 1.5, "kg", "2026-03-01 10:00", "x"]]})


@given(place=st.integers(0, len(PLAIN) - 1), byte=st.integers(0, 255))
def test_no_damage_to_a_workbook_breaks_the_reading(place: int, byte: int) -> None:
    damaged = PLAIN[:place] + bytes([byte]) + PLAIN[place + 1 :]
    assert isinstance(read(damaged, name="opening_lots.xlsx"), Reading)


@pytest.mark.parametrize(
    ("text", "point", "comma"),
    [
        ("1,234", "1234", "1.234"),
        ("1.234", "1.234", "1234"),
        ("0,234", None, "0.234"),
        ("12,34", None, "12.34"),
        ("1234,567", None, "1234.567"),
        ("1,234,567", "1234567", None),
        ("1,234.5", "1234.5", None),
        ("1.234,5", None, "1234.5"),
        ("1 234", "1234", "1234"),
        ("1\u202f234,5", None, "1234.5"),
        ("12'34", None, None),
        ("1.5e3", "1.5e3", None),
        (".5", "0.5", None),
        ("5,", None, "5"),
        (",", None, None),
        ("", None, None),
        ("-1,5", None, "-1.5"),
    ],
)
def test_a_number_by_decimal_mark(text: str, point: str | None, comma: str | None) -> None:
    readings = number_readings(text)
    assert (readings.get("point"), readings.get("comma")) == (point, comma)
