"""Sheets as other programs and people write them: what is told of each, and that it is right."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

import pytest
from openpyxl import Workbook

from batches.exchange.rules.reading import Reading, read_files
from batches.exchange.rules.writing import AS_OURS, Writing, headings_said
from shopfloor.errors import InvalidInputError
from tests.batches.exchange.small import CLOCK
from tests.batches.exchange.workbooks import repacked, workbook

ITEM = "code;name;kind;unit;piece_mass_mg;density_mg_per_ul\n"
QUOTED = "the maker\u2019s \u2013 \u201cGrün\u201d"


def read(name: str, data: bytes, writing: Writing = AS_OURS) -> Reading:
    reading = read_files({name: data}, CLOCK, writing)
    assert reading.problems == []
    return reading


def texts(reading: Reading, sheet: str) -> list[dict[str, Any]]:
    return [row.cells for row in reading.rows[sheet]]


def told(name: str, data: bytes, writing: Writing = AS_OURS) -> str:
    """How the only sheet of a file was read."""
    (source,) = read(name, data, writing).sources
    return source.how


@pytest.mark.parametrize(
    ("text", "encoding", "how"),
    [
        ("code,name\nGRN,Green\n", "utf-8", "UTF-8, parted by commas"),
        ("code,name\nGRN,Grün\n", "utf-8-sig", "UTF-8, parted by commas"),
        ("code;name\nGRN;Grün\n", "cp1252", "Windows-1252 (“Grün”), parted by semicolons"),
        ("code\tname\nGRN\tGrün\n", "utf-16", "UTF-16, parted by tabs"),
        ("code|name\nGRN|Grün\n", "utf-8", "UTF-8, parted by bars"),
        ("sep=;\r\ncode;name\r\nGRN;Grün\r\n", "utf-8", "UTF-8, parted by semicolons"),
        ('code;name\nGRN;"Green, light"\n', "utf-8", "UTF-8, parted by semicolons"),
        (
            f"code,name\nGRN,{QUOTED}\n",
            "cp1252",
            "Windows-1252 (“Grün”), parted by commas",
        ),
    ],
)
def test_what_a_text_is_written_in_is_told(text: str, encoding: str, how: str) -> None:
    data = text.encode(encoding)
    assert told("colorways.csv", data) == how
    (row,) = read("colorways.csv", data).rows["colorways"]
    assert row["name"] in {"Green", "Grün", "Green, light", QUOTED}


def test_what_is_said_is_for_files_that_do_not_tell() -> None:
    said = Writing(encoding="windows-1252", decimals="comma", dates="day-first")
    data = f"{ITEM}A;Grün;paint;mL;1.5;\n".encode()
    reading = read("items.csv", data, said)
    (row,) = reading.rows["items"]
    assert (row["name"], str(row["piece_mass_mg"])) == ("Grün", "1.5")
    assert reading.sources[0].how == "UTF-8, parted by semicolons, a decimal point"


def test_a_heading_may_begin_as_a_workbook_does() -> None:
    data = b"PK,name\nGRN,Green\n"
    said = Writing(headings=headings_said(["colorways:PK=code"]))
    assert read("colorways.csv", data, said).rows["colorways"][0]["code"] == "GRN"


def test_utf_16_without_its_mark_is_taken_when_it_is_said() -> None:
    data = "code,name\nGRN,Grün\n".encode("utf-16-le")
    reading = read("colorways.csv", data, Writing(encoding="utf-16"))
    assert reading.rows["colorways"][0]["name"] == "Grün"


def test_an_encoding_that_is_said_is_taken() -> None:
    data = "code,name\nGRN,Łódź\n".encode("cp1250")
    reading = read("colorways.csv", data, Writing(encoding="windows-1250"))
    assert reading.rows["colorways"][0]["name"] == "Łódź"
    assert reading.sources[0].how == "WINDOWS-1250, parted by commas"


@pytest.mark.parametrize(
    ("cells", "how"),
    [
        ("1234.5;", "a decimal point"),
        ("1234,5;", "a decimal comma"),
        ("1.234,5;", "a decimal comma"),
        ("1 234,5;", "a decimal comma"),
        ("1'234.5;", "a decimal point"),
        ("1,234.5;", "a decimal point"),
        ("1234.500;1.234", "a decimal point"),
        ("1234,500;1,234", "a decimal comma"),
    ],
)
def test_the_decimal_mark_is_told_from_the_whole_sheet(cells: str, how: str) -> None:
    data = f"{ITEM}A;A;paint;mL;{cells}{'' if cells[-1] != ';' else '1'}\n".encode()
    reading = read("items.csv", data)
    (row,) = reading.rows["items"]
    assert str(row["piece_mass_mg"].normalize()) == "1234.5"
    assert reading.sources[0].how == f"UTF-8, parted by semicolons, {how}"


def test_numbers_in_lists_have_the_mark_of_the_sheet() -> None:
    data = b"""supplier;item;amount;unit;prices
N;A;1.000;each;"1:45,00; 5:1.040,50"
N;B;2,5;kg;1:3,456
"""
    first, second = texts(read("offers.csv", data), "offers")
    assert first["prices"] == {1: 45_000_000, 5: 1_040_500_000}
    assert (str(first["amount"]), str(second["amount"])) == ("1000", "2.5")
    assert second["prices"] == {1: 3_456_000}


def test_a_code_with_a_point_is_no_number() -> None:
    data = b"""batch;item;at;good;scrap;lots
B1;A;13.3.2026 8:00;250,5 g;2.5X:1;"L-1.2=1.250,5 g; batch:B.7=0,25 kg"
"""
    reading = read_files({"runs.csv": data}, CLOCK)
    assert [problem.advice for problem in reading.problems] == []
    (row,) = texts(reading, "runs")
    assert [str(tally.amount) for tally in row["good"]] == ["250.5"]
    assert [(tally.name, str(tally.amount)) for tally in row["scrap"]] == [("2.5X", "1")]
    assert [(used.code, str(used.amount)) for used in row["lots"]] == [
        ("L-1.2", "1250.5"),
        ("B.7", "0.25"),
    ]


def test_what_a_mark_is_can_be_said_where_nothing_tells() -> None:
    data = f"{ITEM}A;A;paint;mL;1.234;\n".encode()
    point, comma = (
        read("items.csv", data, Writing(decimals=way)).rows["items"][0]["piece_mass_mg"]
        for way in ("point", "comma")
    )
    assert (str(point), str(comma)) == ("1.234", "1234")


LOTS = "at,item,amount,unit,expires_on\n"


@pytest.mark.parametrize(
    ("at", "expires_on", "way"),
    [
        ("2/3/2026 8:00", "13/3/2027", "the day first"),
        ("3/2/2026 8:00", "3/13/2027", "the month first"),
        ("2.3.2026 08:00", "13.3.2027", "the day first"),
        ("3-2-2026 8:00", "3-13-2027", "the month first"),
        ("3/2/2026 8:00 AM", "3/13/2027", "the month first"),
    ],
)
def test_the_order_of_dates_is_told_from_the_whole_sheet(
    at: str, expires_on: str, way: str
) -> None:
    reading = read("opening_lots.csv", f"{LOTS}{at},A,1,kg,{expires_on}\n".encode())
    (row,) = texts(reading, "opening_lots")
    assert row["at"].isoformat() == "2026-03-02T08:00:00-06:00"
    assert row["expires_on"] == date(2027, 3, 13)
    assert reading.sources[0].how == f"UTF-8, parted by commas, {way}"


@pytest.mark.parametrize(
    ("written", "hour"),
    [("12:30 AM", 0), ("12:30 pm", 12), ("1:30 p.m.", 13), ("11:30PM", 23), ("11:30", 11)],
)
def test_hours_of_a_twelve_hour_clock_are_told_apart(written: str, hour: int) -> None:
    reading = read("opening_lots.csv", f"{LOTS}2026-03-01 {written},A,1,kg,\n".encode())
    assert reading.rows["opening_lots"][0]["at"].hour == hour


@pytest.mark.parametrize("written", ["2026/3/1", "2026.03.01", "2026-3-1"])
def test_a_date_with_the_year_first_needs_no_telling(written: str) -> None:
    reading = read("opening_lots.csv", f"{LOTS}{written} 8:00,A,1,kg,\n".encode())
    assert reading.rows["opening_lots"][0]["at"].date() == date(2026, 3, 1)
    assert reading.sources[0].how == "UTF-8, parted by commas"


def test_cells_of_a_workbook_are_what_they_show() -> None:
    def change(book: Workbook) -> None:
        sheet = book["opening_lots"]
        sheet["A2"].number_format = "m/d/yyyy h:mm"
        sheet["E2"].number_format = "m/d/yyyy"
        sheet["F2"].number_format = "00000"

    header = ["at", "item", "amount", "unit", "expires_on", "lot", "value"]
    row = [datetime.fromisoformat("2026-03-01 08:00"), 712, 0.1 + 0.2, "kg", date(2027, 2, 3), 712]
    data = workbook({"opening_lots": [header, [*row, "1,234.50"]]}, change)
    reading = read("anything.xlsx", data)
    (lot,) = texts(reading, "opening_lots")
    assert lot["at"].isoformat() == "2026-03-01T08:00:00-06:00"
    assert (lot["item"], str(lot["amount"]), lot["lot"]) == ("712", "0.3", "00712")
    assert (lot["expires_on"], lot["value"]) == (date(2027, 2, 3), 1_234_500_000)
    assert reading.sources[0].how == "a workbook, a decimal point"


def test_a_workbook_may_hold_many_sheets_and_an_explanation() -> None:
    data = workbook(
        {
            "Scrap Reasons": [["Code", "Name"], ["LEAK", "Leak"]],
            "stages": [["code", "name", "position", "mixing"], ["GLUE", "Gluing", 10, True]],
            "explanation": [["anything"]],
            "empty": [],
        }
    )
    reading = read("shop.xlsx", data)
    assert [source.label for source in reading.sources] == [
        "shop.xlsx (Scrap Reasons)",
        "shop.xlsx (stages)",
    ]
    assert reading.rows["stages"][0]["mixing"] is True


def test_a_workbook_of_one_sheet_may_be_named_by_its_file() -> None:
    data = workbook({"Sheet 1": [["code", "name"], ["GRN", "Green"]]})
    (source,) = read("colorways.xlsx", data).sources
    assert (source.sheet, source.label) == ("colorways", "colorways.xlsx")


def test_rows_of_a_workbook_are_counted_as_it_shows_them() -> None:
    rows: list[list[Any]] = [[], ["code", "name"], [], ["GRN", "Green"], ["BLK", None]]
    reading = read_files({"colorways.xlsx": workbook({"colorways": rows})}, CLOCK)
    (problem,) = reading.problems
    assert (problem.row, problem.column) == (5, "name")


def test_a_formula_gives_the_value_that_was_kept_of_it() -> None:
    def kept(name: str, data: bytes) -> bytes:
        return re.sub(rb'"A2"><f>A1</f><v */>', b'"A2" t="str"><f>A1</f><v>GRN</v>', data)

    def change(book: Workbook) -> None:
        book["colorways"]["A2"] = "=A1"

    data = workbook({"colorways": [["code", "name"], ["", "Green"]]}, change)
    hollow = read_files({"colorways.xlsx": data}, CLOCK)
    assert [problem.row for problem in hollow.problems] == [2]
    rows = texts(read("colorways.xlsx", repacked(data, kept)), "colorways")
    assert rows == [{"code": "GRN", "name": "Green"}]


def test_headings_of_the_shop_s_own_stand_for_columns_or_are_left_out() -> None:
    said = headings_said(["colorways:Part no.=code", "Shade = name", "My notes=", "#="])
    data = b"Shade,part  NO,My notes,#\nGreen,GRN,never read,1\n"
    reading = read("colorways.csv", data, Writing(headings=said))
    assert texts(reading, "colorways") == [{"code": "GRN", "name": "Green"}]
    assert reading.is_whole("colorways")


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        ("Part no", "“Part no” is no pair."),
        ("=code", "“=code” is no pair."),
        ("models:Part no=unit", "The sheet models has no column unit."),
        ("Part no=nothing", "No sheet has a column nothing."),
    ],
)
def test_a_pair_that_means_nothing_is_refused(pair: str, said: str) -> None:
    with pytest.raises(InvalidInputError) as refused:
        headings_said([pair])
    assert refused.value.detail.startswith(said)


def test_the_same_rows_have_the_same_digest_however_they_are_written() -> None:
    written = {
        "a.csv": b"item,amount,unit,at\nA,1234.5,kg,2026-03-13 08:00\n",
        "b.csv": "at;amount;item;unit\n13.3.2026 8:00;1.234,5;A;kg\n".encode("utf-16"),
    }
    first, second = (read("opening_lots.csv", data).sources[0] for data in written.values())
    assert first.digest != second.digest
    assert first.rows_digest == second.rows_digest
    other = read("opening_lots.csv", written["a.csv"].replace(b"5,kg", b"6,kg")).sources[0]
    assert other.rows_digest != first.rows_digest
