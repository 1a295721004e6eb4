"""Reports as they are printed: the code scans, tables cross pages whole, nothing is cut."""

from __future__ import annotations

from typing import Any

import pypdfium2
import pytest

from batches.labels.rules.papers_report import Heading, Report, Section, Table
from tests.batches.labels.conftest import (
    drawn,
    ink_um,
    job_on,
    overprinted,
    rendered,
    symbols,
    words,
)
from tests.batches.labels.samples import box, lot

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

PAGES = ("letter", "a4")
LONG = "An uncommonly long reason that goes on and on and would not fit any line, ever. " * 3
HEADINGS = (Heading("Lot", 0.3), Heading("Where", 0.5), Heading("Pieces", 0.2, is_right=True))


def report(rows: int = 3, **given: Any) -> Report:
    lots = tuple(
        (f"L-2{number}", "on the shelf", str(number)) for number in range(1000, 1000 + rows)
    )
    fields = {
        "code": "W-2223",
        "title": "Recall W-2223",
        "facts": (("Because", LONG), ("State", "open")),
        "sections": (
            Section(title="In short", words=(LONG,)),
            Section(title="Lots", table=Table(headings=HEADINGS, rows=lots, nothing="None.")),
            Section(title="Holds", table=Table(headings=HEADINGS, rows=(), nothing="No holds.")),
        ),
        **given,
    }
    return Report(**fields)


def of_one_cell(cell: str) -> Report:
    table = Table(headings=HEADINGS, rows=((cell, cell, cell),), nothing="None.")
    return report(sections=(Section(title="Lots", table=table),))


def pages_of(pdf: bytes) -> list[str]:
    return [words(pdf, page) for page in range(len(pypdfium2.PdfDocument(pdf)))]


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", PAGES)
def test_its_code_scans(stock: str, dpi: int) -> None:
    image = rendered(drawn(report(), on=stock, dpi=dpi), dpi=dpi)
    assert symbols(image) == [("DataMatrix", "W-2223")]


def test_every_row_is_there_once_and_each_page_has_the_head_of_the_table() -> None:
    pages = pages_of(drawn(report(300), on="letter"))
    assert len(pages) > 5
    text = "\n".join(pages)
    assert [text.count(f"L-2{number}") for number in range(1000, 1300)] == [1] * 300
    assert [page.count("Where") for page in pages] == [1] * len(pages)
    assert f"page 1 of {len(pages)}" in pages[0]
    assert "No holds." in pages[-1]


def test_a_cell_longer_than_a_page_goes_on_and_loses_nothing() -> None:
    boxes = ", ".join(f"X-{number}" for number in range(10_000, 12_000))
    text = " ".join(pages_of(drawn(of_one_cell(boxes), on="letter"))).replace("\n", " ")
    assert text.count("X-11999") == 3
    assert text.count("X-10000") == 3


@pytest.mark.parametrize(
    "paper",
    [
        report(),
        report(60),
        report(0),
        of_one_cell("W" * 300),
        report(title=LONG, code="W" * 24),
        report(sections=(Section(title="Stickers", specimens=(lot(), box())),)),
    ],
    ids=["short", "pages", "nothing", "unbroken", "long title", "stickers"],
)
@pytest.mark.parametrize("stock", PAGES)
def test_nothing_lies_outside_the_page_nor_over_another_part(stock: str, paper: Report) -> None:
    pdf = drawn(paper, on=stock, shop_name=LONG, is_demo=True)
    page = job_on(stock).stock
    margin = page.margin_um
    assert ink_um(pdf, dpi=203).is_within(
        margin, margin, page.label_width_um - margin, page.label_height_um - margin
    )
    assert overprinted(pdf) == []
