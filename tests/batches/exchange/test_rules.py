"""Reading sheets: what is taken, and the last value that passes beside the first that fails."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from batches.exchange.rules import SHEETS, kinds, lists
from batches.exchange.rules.crossing import lot_and_parents
from batches.exchange.rules.kinds import Kind
from batches.exchange.rules.reading import read_files
from batches.exchange.rules.standing import LIFE_DAYS_MAX, PARTS_MAX
from inventory.catalog import models as catalog
from inventory.catalog.steps import PARTS_MAX as PARTS_OF_THE_CATALOG
from shopfloor import fields
from shopfloor.bootstrap import ROOT
from shopfloor.errors import InvalidInputError
from shopfloor.models import USERNAME_PATTERN
from tests.batches.exchange.small import CLOCK


def values_of(file: str, text: str | bytes) -> list[dict[str, Any]]:
    data = text.encode() if isinstance(text, str) else text
    reading = read_files({file: data}, CLOCK)
    assert reading.problems == []
    return [dict(row.cells) for row in reading.rows[file.removesuffix(".csv")]]


def read(kind: Kind, cell: str) -> Any:
    return kind.read(cell, CLOCK)


def test_a_byte_order_mark_is_taken_along() -> None:
    with_mark = b"\xef\xbb\xbfcode,name\nGRN,Gr\xc3\xbcn\n"
    assert values_of("colorways.csv", with_mark) == [{"code": "GRN", "name": "Grün"}]


def test_columns_may_stand_in_any_order_and_either_case() -> None:
    assert values_of("colorways.csv", "Name,CODE\nGreen,grn\n") == [
        {"name": "Green", "code": "GRN"}
    ]


def test_spaces_around_cells_empty_rows_and_empty_cells_at_the_end_are_no_matter() -> None:
    text = "code,name,,\n\n GRN , Green ,,,\n,,,\n"
    assert values_of("colorways.csv", text) == [{"code": "GRN", "name": "Green"}]


def test_windows_line_ends_and_a_last_row_without_one_are_taken() -> None:
    assert values_of("colorways.csv", "code,name\r\nGRN,Green\r\nBLK,Black") == [
        {"code": "GRN", "name": "Green"},
        {"code": "BLK", "name": "Black"},
    ]


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    text = 'code,name,address\nA,First,"1 Pier\n2 Pier"\n\nB,,\n'
    (problem,) = read_files({"customers.csv": text.encode()}, CLOCK).problems
    assert (problem.row, problem.column) == (4, "name")


def test_an_optional_empty_cell_is_nothing() -> None:
    assert values_of("models.csv", "code,name,length_mm\nM90,Model 90,\n") == [
        {"code": "M90", "name": "Model 90"}
    ]


@pytest.mark.parametrize(
    ("kind", "passes", "value"),
    [
        (kinds.whole("n", 1, 20), "20", 20),
        (kinds.whole("n", 1, 20), "2E+1", 20),
        (kinds.share(), "0", Decimal(0)),
        (kinds.share(), "0.99999", Decimal("0.99999")),
        (kinds.share(with_one=True), "1", Decimal(1)),
        (kinds.money(), "0.000001", 1),
        (kinds.day(), "2026-04-01", date(2026, 4, 1)),
        (kinds.day(future=True), "2099-12-31", date(2099, 12, 31)),
        (kinds.moment(), "2026-04-01 13:00", datetime(2026, 4, 1, 18, 0, tzinfo=UTC)),
        (kinds.moment(), "2026-04-01T18:00:00Z", datetime(2026, 4, 1, 18, 0, tzinfo=UTC)),
        (kinds.moment(), "2026-01-05 08:00", datetime(2026, 1, 5, 14, 0, tzinfo=UTC)),
        (kinds.moment(), "2025-11-02 01:30-06:00", datetime(2025, 11, 2, 7, 30, tzinfo=UTC)),
        (kinds.moment(), "2026-03-08 03:00", datetime(2026, 3, 8, 8, 0, tzinfo=UTC)),
        (kinds.text(3), "äöü", "äöü"),
        (kinds.flag(), "YES", True),
        (kinds.ref("lots"), "adh-a.1", "ADH-A.1"),
        (kinds.gtin(), "9521234000006", "09521234000006"),
        (kinds.choice("II", "S1"), "s1", "S1"),
        (kinds.choice_of_numbers("0.10", "1.0"), "1", "1.0"),
        (kinds.limit("l"), "-0.5", Decimal("-0.5")),
        (
            lists.results(),
            "1/32@w1-03; 0 / 5; -4.31@M1-2",
            (
                (1, 32, None, "W1-03"),
                (0, 5, None, ""),
                (None, None, Decimal("-4.31"), "M1-2"),
            ),
        ),
        (lists.results(), "999999999.99999", ((None, None, Decimal("999999999.99999"), ""),)),
        (lists.factors(), "a=1; b = x y;", {"a": "1", "b": "x y"}),
        (lists.price_breaks(), "5:40.00; 1:45", {5: 40_000_000, 1: 45_000_000}),
        (lists.item_prices(), "lure-7: 6.50", {"LURE-7": 6_500_000}),
        (lists.written_amount(), "250 g", (Decimal(250), "g")),
        (lists.tallies(of_scrap=False), "0", ()),
        (
            lists.tallies(of_scrap=False),
            "170; second: 5 @w1-03",
            (("", Decimal(170), "", ""), ("second", Decimal(5), "", "W1-03")),
        ),
        (
            lists.tallies(of_scrap=True),
            "short:3@M1-2",
            (("SHORT", Decimal(3), "", "M1-2"),),
        ),
        (
            lists.lots_used(),
            "paint-7; paint-8.1=0.5 L; batch:B1/second; item:REGRIND=2 kg",
            (
                ("lot", "PAINT-7", "first", None, ""),
                ("lot", "PAINT-8.1", "first", Decimal("0.5"), "L"),
                ("batch", "B1", "second", None, ""),
                ("item", "REGRIND", "first", Decimal(2), "kg"),
            ),
        ),
    ],
)
def test_a_cell_is_read(kind: Kind, passes: str, value: Any) -> None:
    assert read(kind, passes) == value


@pytest.mark.parametrize(
    ("kind", "fails"),
    [
        (kinds.whole("n", 1, 20), "21"),
        (kinds.whole("n", 1, 20), "0"),
        (kinds.share(), "1"),
        (kinds.share(with_one=True), "0"),
        (kinds.share(with_one=True), "1.00001"),
        (kinds.money(), "0.0000001"),
        (kinds.day(), "2026-04-02"),
        (kinds.day(future=True), "2100-01-01"),
        (kinds.moment(), "2026-04-01 13:00:01"),
        (kinds.moment(), "2026-03-08 02:59"),
        (kinds.text(3), "äöüß"),
        (kinds.flag(), "1"),
        (kinds.code(), "A" * 25),
        (kinds.ref("lots"), "a b"),
        (kinds.gtin(), "9521234000007"),
        (lists.factors(), "a=1; a=2"),
        (lists.factors(), f"{'a' * 41}=1"),
        (lists.lots_used(), "L1/second"),
        (lists.lots_used(), "L1=0 kg"),
        (lists.lot(), "item:REGRIND"),
        (lists.lot(), "L1=2 kg"),
        (lists.tallies(of_scrap=True), "SHORT"),
        (lists.tallies(of_scrap=False), "1,5"),
        (lists.pictograms(), "GHS10"),
        (kinds.choice_of_numbers("0.10", "1.0"), "0.2"),
        (lists.results(), "1/"),
        (lists.results(), "1/2/3"),
        (lists.results(), "five"),
        (lists.results(), "1.2.3"),
        (lists.results(), "1.000001"),
        (lists.results(), "1000000000"),
    ],
)
def test_a_cell_is_refused(kind: Kind, fails: str) -> None:
    with pytest.raises(InvalidInputError):
        read(kind, fails)


def test_a_part_of_a_lot_is_traced_to_the_lot_that_a_sheet_gives() -> None:
    assert lot_and_parents("A.1.12") == ["A.1.12", "A.1", "A"]
    assert lot_and_parents("A.B") == ["A.B"]


def test_the_page_explains_every_sheet_as_it_is_read() -> None:
    from batches.exchange.rules.page import sheets_explained  # noqa: PLC0415

    page = (ROOT / "docs" / "import.md").read_text(encoding="utf-8")
    _, _, explained = page.partition("## The sheets\n\n")
    assert explained == sheets_explained(SHEETS)


def test_what_is_said_here_and_elsewhere_agrees() -> None:
    assert (kinds.YEAR_MIN, kinds.YEAR_MAX) == (fields.YEAR_MIN, fields.YEAR_MAX)
    assert kinds.CODE_LENGTH_MAX == fields.CODE_LENGTH_MAX
    assert f"^{kinds._USERNAME.pattern}\\Z" == USERNAME_PATTERN
    assert (LIFE_DAYS_MAX, PARTS_MAX) == (catalog.LIFE_DAYS_MAX, PARTS_OF_THE_CATALOG)
