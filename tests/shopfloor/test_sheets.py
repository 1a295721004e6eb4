"""CSV and XLSX: what a cell becomes, what does not fit, and that memory does not grow."""

from __future__ import annotations

import csv
import io
import tracemalloc
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from shopfloor.sheets import (
    CSV,
    XLSX,
    XLSX_TEXT_MAX,
    Cell,
    SheetKind,
    SheetTooLargeError,
    write_xlsx,
)

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

# What can be kept at all: see `has_control_characters`.
TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=40)


def written(kind: SheetKind, *rows: list[Cell]) -> bytes:
    file = io.BytesIO()
    kind.write(file, [f"c{n}" for n in range(len(rows[0]))], rows)
    return file.getvalue()


def xlsx_cells(*rows: list[Cell]) -> list[list[tuple[Any, str]]]:
    """Value and type of every cell below the head, as openpyxl reads them."""
    sheet = load_workbook(io.BytesIO(written(XLSX, *rows))).worksheets[0]
    return [[(cell.value, cell.data_type) for cell in row] for row in sheet.iter_rows(min_row=2)]


def csv_cells(*rows: list[Cell]) -> list[list[str]]:
    text = written(CSV, *rows).decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline="")))[1:]


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (None, ""),
        ("", ""),
        ("Treble hook, size 6", "Treble hook, size 6"),
        ('a "quoted" word\r\nand a line', 'a "quoted" word\r\nand a line'),
        (Decimal("12.50"), "12.50"),
        (Decimal("-0.000001"), "-0.000001"),
        (Decimal("1E+3"), "1000"),
        (True, "true"),
        (0, "0"),
        (date(2026, 3, 2), "2026-03-02"),
    ],
)
def test_a_cell_of_csv_is_written_so(cell: Cell, text: str) -> None:
    assert csv_cells([cell, "x"]) == [[text, "x"]]


# OWASP, "CSV Injection", from memory: the characters that begin a formula somewhere.
@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff20"])
def test_a_text_that_begins_like_a_formula_is_defused(sign: str) -> None:
    assert csv_cells([f"{sign}1+1"]) == [[f"'{sign}1+1"]]
    assert csv_cells([f"1{sign}1"]) == [[f"1{sign}1"]]
    as_kept = sign.replace("\r", "_x000D_")  # ECMA-376 part 1, 22.9.2.19; openpyxl leaves it
    assert xlsx_cells([f"{sign}1+1"]) == [[(f"{as_kept}1+1", "s")]]


@pytest.mark.parametrize("text", ["#N/A", "00712", "TRUE", "1.5", "2026-03-02", " spaced "])
def test_a_text_in_xlsx_stays_that_text(text: str) -> None:
    assert xlsx_cells([text]) == [[(text, "s")]]


@given(st.lists(st.lists(TEXTS, min_size=3, max_size=3), min_size=1, max_size=5))
def test_any_text_comes_back_from_both(rows: list[list[str]]) -> None:
    rows = [[*row, "end"] for row in rows]  # a row with nothing in it is no row of a workbook
    cells: list[list[Cell]] = [list(row) for row in rows]
    in_csv = [[cell.removeprefix("'") for cell in row] for row in csv_cells(*cells)]
    assert in_csv == [[text.removeprefix("'") for text in row] for row in rows]
    in_xlsx = [[value or "" for value, _ in row] for row in xlsx_cells(*cells)]
    assert in_xlsx == rows


def test_what_looks_like_an_escape_of_the_format_is_escaped() -> None:
    # ECMA-376 part 1, 22.9.2.19: a reader takes _x005F_ for an underscore; openpyxl leaves it.
    assert xlsx_cells(["_x0041_ _x41_"]) == [[("_x005F_x0041_ _x41_", "s")]]


@pytest.mark.parametrize(
    ("number", "kept"),
    [
        (Decimal("0.10"), (0.1, "n")),
        (Decimal("-123456789.012345"), (-123456789.012345, "n")),
        (Decimal("1234567890.123456"), ("1234567890.123456", "s")),
        (10**15 - 1, (10**15 - 1, "n")),
        (10**15, ("1000000000000000", "s")),
        (True, (True, "b")),
    ],
)
def test_a_number_in_xlsx_is_one_where_all_its_digits_are_kept(number: Cell, kept: Any) -> None:
    assert xlsx_cells([number]) == [[kept]]


def test_a_day_in_xlsx_is_a_date() -> None:
    (((value, kind),),) = xlsx_cells([date(2026, 3, 2)])
    assert (value.date(), kind) == (date(2026, 3, 2), "d")


def test_the_last_row_that_fits_and_the_first_that_does_not() -> None:
    write_xlsx(io.BytesIO(), ["code"], [["a"], ["b"]], rows_max=3)
    with pytest.raises(SheetTooLargeError, match="2 rows"):
        write_xlsx(io.BytesIO(), ["code"], [["a"], ["b"], ["c"]], rows_max=3)


def test_the_longest_text_that_fits_and_the_first_that_does_not() -> None:
    assert xlsx_cells(["x" * XLSX_TEXT_MAX]) == [[("x" * XLSX_TEXT_MAX, "s")]]
    with pytest.raises(SheetTooLargeError, match="32,767 characters in a cell"):
        xlsx_cells(["x" * (XLSX_TEXT_MAX + 1)])
    assert csv_cells(["x" * (XLSX_TEXT_MAX + 1)]) == [["x" * (XLSX_TEXT_MAX + 1)]]


@pytest.mark.parametrize("kind", [CSV, XLSX])
def test_ten_times_the_rows_take_no_more_memory(kind: SheetKind, tmp_path: Any) -> None:
    def peak(number: int) -> int:
        rows: Iterator[list[Cell]] = (["L-3K7Q", Decimal("12.50"), n] for n in range(number))
        with (tmp_path / "sheet").open("wb") as file:
            tracemalloc.start()
            kind.write(file, ["lot", "value", "number"], rows)
            most = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        return most

    peak(10)
    assert peak(20_000) < peak(2_000) + 100_000
