"""Every paper on every stock, by a second renderer, and as a printer has it: black or white.

Poppler shares no code with pdfium, nor the decoder (zxing-cpp) with the encoders.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from io import BytesIO

import numpy as np
import pytest
from PIL import Image as Pictures

from batches.labels.rules.papers import Paper
from batches.labels.rules.papers_packing import CartonLabel
from batches.labels.rules.stock import STANDING
from tests.batches.labels.conftest import Image, drawn, rendered
from tests.batches.labels.samples import TRAVELER, box, lot
from tests.batches.labels.test_pdf_kinds import (
    GTIN,
    ON_EVERY_STOCK,
    SSCC,
    carried,
    scanned,
    takes,
)
from tests.batches.labels.test_pdf_places import WORST_ON
from tests.batches.labels.test_pdf_reports import report
from tests.needs import need_program

USUAL_ON = [
    (paper, stock.name)
    for paper in (lot(), box(), TRAVELER, report())
    for stock in STANDING.values()
    if takes(stock, paper)
]


def poppler(pdf: bytes, dpi: int, *options: str) -> Image:
    """The first page, drawn by another renderer."""
    program = need_program("pdftoppm", package="poppler-utils")
    made = subprocess.run(  # noqa: S603 - our own words
        [program, "-r", str(dpi), "-l", "1", *options, "-"],
        input=pdf,
        capture_output=True,
        check=True,
    )
    return np.asarray(Pictures.open(BytesIO(made.stdout)).convert("L"))


def one_bit(image: Image) -> Image:
    """What a printer makes of gray: black or white."""
    return np.where(image < 128, 0, 255).astype(np.uint8)


def images(pdf: bytes, dpi: int) -> Iterator[Image]:
    yield poppler(pdf, dpi, "-mono")
    yield one_bit(rendered(pdf, dpi=dpi))


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(("paper", "stock"), [*ON_EVERY_STOCK, *USUAL_ON, *WORST_ON])
def test_it_reads_back_from_dots_that_are_black_or_white(
    paper: Paper, stock: str, dpi: int
) -> None:
    pdf = drawn(paper, on=stock, dpi=dpi)
    halves = {f"(00){SSCC}", f"(02){GTIN}(37)24(10)L-2227.1"}
    for image in images(pdf, dpi):
        read = {text for _, text in scanned(image)}
        if isinstance(paper, CartonLabel):
            assert read in (carried(paper), carried(paper) | {f"(00){SSCC}"}, halves)
        else:
            assert carried(paper) <= read


def test_the_second_renderer_draws_as_many_dots() -> None:
    pdf = drawn(lot(), on="2x1")
    assert poppler(pdf, 203, "-mono").shape == rendered(pdf, dpi=203).shape == (203, 406)
