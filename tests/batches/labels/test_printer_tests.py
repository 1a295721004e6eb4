"""The page that measures a printer: its rulers are as long as they say, its symbols read."""

from __future__ import annotations

from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from django.core.management import CommandError, call_command
from rest_framework.test import APIClient

from batches.labels.models import Printing
from batches.labels.operations import enter_stock
from batches.labels.pdf import write_papers
from batches.labels.rules.papers import PrinterTest
from batches.labels.rules.stock import DPIS, STANDING, PrintJob, Stock
from shopfloor.models import User
from tests.batches.labels.conftest import MONDAY, Image, ink_um, overprinted, rendered, words

TEST = "/api/v1/labels/test.pdf"
FORMATS = zxingcpp.BarcodeFormats(
    [
        zxingcpp.BarcodeFormat.Code128,
        zxingcpp.BarcodeFormat.DataMatrix,
        zxingcpp.BarcodeFormat.QRCode,
    ]
)
A_DOT_UM = 126
"""At 203 dpi; the frame lies on the margin, to the nearest dot."""
ALL_KINDS = ["Code128", "DataMatrix", "QRCode"]


def of_size(width_mm: int, height_mm: int) -> Stock:
    """A roll of the shop's own."""
    width, height = width_mm * 1000, height_mm * 1000
    return Stock(
        name="OWN",
        page_width_um=width,
        page_height_um=height,
        label_width_um=width,
        label_height_um=height,
    )


OWN = [of_size(10, 10), of_size(20, 12), of_size(12, 90), of_size(90, 12), of_size(450, 450)]
STOCKS = [*STANDING.values(), *OWN]


def printed(stock: Stock, dpi: int, **given: Any) -> bytes:
    job = PrintJob(stock=stock, dpi=dpi, shop_name="Test shop", **{"is_demo": False, **given})
    file = BytesIO()
    write_papers([PrinterTest(code=stock.name)], job=job, file=file)
    return file.getvalue()


def read(image: Image) -> list[str]:
    found = zxingcpp.read_barcodes(image, formats=FORMATS, text_mode=zxingcpp.TextMode.Plain)
    assert {symbol.text for symbol in found} <= {"TEST"}
    return sorted(symbol.format.name for symbol in found)


def tick_starts(image: Image, count: int) -> list[int]:
    """Where so many ticks in a row begin, in dots; of the frame's two lines the row has more."""
    dark = np.pad(image < 128, ((0, 0), (1, 0)))
    starts = dark[:, 1:] & ~dark[:, :-1]
    [row, *_] = np.flatnonzero(starts.sum(axis=1) == count + 2)
    return [int(at) for at in np.flatnonzero(starts[row])[1:-1]]


@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: f"{stock.name}-{stock.label_width_um}")
def test_nothing_lies_outside_the_margin_of_its_label_nor_over_another_part(
    stock: Stock, dpi: int
) -> None:
    pdf = printed(stock, dpi, is_demo=True)
    left, top = stock.place_um(0)
    margin = stock.margin_um - A_DOT_UM
    assert ink_um(pdf, dpi=dpi).is_within(
        left + margin,
        top + margin,
        left + stock.label_width_um - margin,
        top + stock.label_height_um - margin,
    )
    assert overprinted(pdf) == []


@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize(
    ("stock", "across_mm", "across_eighths", "down_mm", "down_eighths"),
    [("4x6", 80, 24, 140, 44), ("4x2", 80, 24, 40, 12)],
)
def test_the_rulers_are_as_long_as_they_say(
    stock: str, dpi: int, across_mm: int, across_eighths: int, down_mm: int, down_eighths: int
) -> None:
    pdf = printed(STANDING[stock], dpi)
    image = rendered(pdf, dpi=dpi)
    told = f"measure {across_mm} mm and {across_eighths / 8:g} in across, {down_mm} mm"
    assert told in words(pdf).replace("\n", " ")
    a_dot = 25.4 / dpi  # the renderer draws a row too many, and one is lost in rounding
    for part, count, unit_mm in (
        (image, across_mm, 1),
        (image, across_eighths, 3.175),
        (image.T, down_mm, 1),
        (image.T, down_eighths, 3.175),
    ):
        starts = np.array(tick_starts(part, count + 1))
        measured = (starts - starts[0]) * a_dot
        assert measured == pytest.approx(np.arange(count + 1) * unit_mm, abs=2 * a_dot)


@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize("stock", ["4x6", "4x2", "letter", "a4-8", "letter-6"])
def test_a_symbol_of_each_kind_reads_at_its_least(stock: str, dpi: int) -> None:
    assert read(rendered(printed(STANDING[stock], dpi), dpi=dpi)) == ALL_KINDS


@pytest.mark.parametrize("stock", ["2x1", "3x1", "letter-30", "a4-24"])
def test_on_small_labels_those_that_fit_do(stock: str) -> None:
    assert {"Code128", "DataMatrix"} <= set(read(rendered(printed(STANDING[stock], 203), dpi=203)))


def test_bars_are_one_dot_wide_and_two_and_so_on() -> None:
    pdf = printed(STANDING["4x6"], 203)
    dark = np.pad(rendered(pdf, dpi=203) < 128, ((0, 0), (1, 1)))
    change = np.diff(dark.astype(np.int8), axis=1)
    runs = [np.flatnonzero(row == -1) - np.flatnonzero(row == 1) for row in change]
    eight = "1,2,3,4,5,6,7,8"
    assert any(eight in ",".join(map(str, row)) for row in runs)


def test_a_made_up_shop_says_demo() -> None:
    assert "DEMO" in words(printed(STANDING["2x1"], 203, is_demo=True))
    assert "DEMO" not in words(printed(STANDING["2x1"], 203))


def test_every_label_of_a_page_has_one_from_where_it_starts(api: APIClient) -> None:
    query: dict[str, Any] = {"stock": "letter-30", "start": 28, "dpi": 300}
    answer = api.get(TEST, query)
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == 'inline; filename="test-letter-30.pdf"'
    assert read(rendered(answer.content, dpi=300)).count("DataMatrix") == 3
    assert len(pypdfium2.PdfDocument(answer.content)) == 1
    assert not Printing.objects.exists()


def test_the_shops_own_stock_is_tested_too_and_nothing_else(api: APIClient, owner: User) -> None:
    sides = {"page_width_um": 60_000, "page_height_um": 40_000}
    columns = {**sides, "label_width_um": 60_000, "label_height_um": 40_000}
    enter_stock(code="TAG", columns=columns, by=owner, at=MONDAY)
    assert "TAG, 203 dpi" in words(api.get(TEST, {"stock": "tag"}).content)
    assert "4x6, 203 dpi" in words(api.get(TEST).content)
    refused = api.get(TEST, {"stock": "none"})
    assert (refused.status_code, refused.json()["code"]) == (422, "stock_unknown")
    assert api.get(TEST, {"dpi": 72}).status_code == 422


def test_the_command_makes_it_and_keeps_no_printing(owner: User, tmp_path: Path) -> None:
    out = StringIO()
    file = tmp_path / "test.pdf"
    call_command("labels", "test", "--file", str(file), "--stock", "letter-6", stdout=out)
    assert out.getvalue() == f"6 tests on letter-6 in {file}.\n"
    assert "letter-6, 203 dpi" in words(file.read_bytes())
    assert not Printing.objects.exists()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["test", "A1"], "Leave them out"),
        (["lots"], "at least one code"),
        (["test", "--stock", "none"], "No stock in use"),
    ],
)
def test_what_is_no_test_leaves_no_file(
    owner: User, tmp_path: Path, more: list[str], said: str
) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("labels", *more, "--file", str(tmp_path / "test.pdf"))
    assert not (tmp_path / "test.pdf").exists()
