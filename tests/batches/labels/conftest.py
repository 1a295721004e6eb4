"""A shop that prints, and papers looked at the way a printer and a scanner would."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import BytesIO
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pypdfium2
import pytest
import zxingcpp
from pypdfium2 import raw
from rest_framework.test import APIClient

from batches.labels.pdf import write_papers
from batches.labels.rules.papers import BoxLabel, LotLabel, Paper, Traveler
from batches.labels.rules.stock import STANDING, PrintJob
from inventory.catalog.operations import create_colorway, create_item, create_model, create_place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from shopfloor.operations import create_first_owner, issue_token
from shopfloor.selectors import person_named
from shopfloor.stamp import Stamp

MONDAY = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)  # 9 in the morning at the shop
TUESDAY = MONDAY + timedelta(days=1)
LATER = MONDAY + timedelta(days=30)
Image = npt.NDArray[np.uint8]
KINDS = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.Code128, zxingcpp.BarcodeFormat.DataMatrix])


USUAL = {BoxLabel: "4x6", LotLabel: "2x1", Traveler: "letter"}


def job_on(stock: str, **given: Any) -> PrintJob:
    """A print job of the test shop, for a printer of 203 dpi unless told otherwise."""
    fields = {"dpi": 203, "shop_name": "Test shop", "is_demo": False, **given}
    return PrintJob(stock=STANDING[stock], **fields)


def drawn(*papers: Paper, on: str = "", **given: Any) -> bytes:
    """The papers as a file, on a stock; if none is named, on one that suits the first."""
    file = BytesIO()
    write_papers(papers, job=job_on(on or USUAL[type(papers[0])], **given), file=file)
    return file.getvalue()


def rendered(pdf: bytes, *, dpi: int, page: int = 0) -> Image:
    """A page as gray dots, the way a printer of that resolution gets it."""
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).squeeze()


def read(image: Image, mode: zxingcpp.TextMode) -> list[zxingcpp.Barcode]:
    """Every symbol; only dark on light and as large as it stands, as it is printed."""
    return zxingcpp.read_barcodes(
        image, formats=KINDS, text_mode=mode, try_invert=False, try_downscale=False
    )


def symbols(image: Image) -> list[tuple[str, str]]:
    """Kind and data of every symbol, sorted."""
    found = read(image, zxingcpp.TextMode.Plain)
    return sorted((symbol.format.name, symbol.text) for symbol in found)


def words(pdf: bytes, page: int = 0) -> str:
    """All text of a page."""
    text: str = pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_range()
    return text.replace("\r\n", "\n")


class Ink(NamedTuple):
    """The box around all that is drawn, from the page's upper left corner; micrometers."""

    left_um: float
    top_um: float
    right_um: float
    bottom_um: float

    def is_within(self, left_um: int, top_um: int, right_um: int, bottom_um: int) -> bool:
        """Whether it lies in another box, but for a dot's anti-aliasing."""
        dot = 130
        return (
            self.left_um >= left_um - dot
            and self.top_um >= top_um - dot
            and self.right_um <= right_um + dot
            and self.bottom_um <= bottom_um + dot
        )


def ink_um(pdf: bytes, *, dpi: int) -> Ink:
    """Where the first page is not white; looks an inch beyond the page too."""
    page = pypdfium2.PdfDocument(pdf)[0]
    width, height = page.get_size()
    beyond = 72
    box = (-beyond, -beyond, width + beyond, height + beyond)
    page.set_mediabox(*box)
    page.set_cropbox(*box)
    image = np.asarray(page.render(scale=dpi / 72, grayscale=True).to_numpy()).squeeze()
    rows, columns = np.nonzero(image < 128)
    um = 25_400 / dpi
    inch = 25_400
    return Ink(
        columns.min() * um - inch,
        rows.min() * um - inch,
        (columns.max() + 1) * um - inch,
        (rows.max() + 1) * um - inch,
    )


def overprinted(pdf: bytes, page: int = 0) -> list[str]:
    """Lines of text that lie on another line, on a rule or on a symbol; DEMO lies on its black."""
    found = pypdfium2.PdfDocument(pdf)[page]
    textpage = found.get_textpage()
    drawn = list(found.get_objects(textpage=textpage))
    texts = [
        (each.extract(), each.get_bounds())
        for each in drawn
        if isinstance(each, pypdfium2.PdfTextObj)
    ]
    others = [(None, each.get_bounds()) for each in drawn if each.type == raw.FPDF_PAGEOBJ_PATH]
    return [
        text
        for place, (text, bounds) in enumerate(texts)
        for other, around in [*texts[:place], *others]
        if _meet(bounds, around) and (text.strip() != "DEMO" or other is not None)
    ]


def _meet(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Whether two boxes (left, bottom, right, top) share a point."""
    is_beside = one[2] < other[0] or other[2] < one[0]
    return not is_beside and one[1] < other[3] and other[1] < one[3]


def stamp_at(by: User, at: datetime = TUESDAY, reason: str = "for the test") -> Stamp:
    return Stamp(by=by, at=at, now=LATER, reason=reason)


@pytest.fixture
def owner(db: None) -> User:
    create_first_owner(
        username="olga", display_name="Olga Owner", password="seven wet otters", at=MONDAY
    )
    owner = person_named("olga")
    create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, by=owner, at=MONDAY)
    create_model(code="MINNOW-90", fields={"name": "Minnow 90"}, by=owner, at=MONDAY)
    create_colorway(code="TIGER", fields={"name": "Fire tiger"}, by=owner, at=MONDAY)
    return owner


@pytest.fixture
def api(owner: User) -> APIClient:
    issued = issue_token(username="olga", name="a test", by=owner, at=MONDAY)
    return APIClient(headers={"Authorization": f"Token {issued.text}"})


@pytest.fixture
def stock_of(owner: User) -> Callable[..., Lot]:
    """Enters an item and takes a lot of it in."""

    def lot(item_code: str, pieces: int = 100, *, lot_code: str = "", **fields: Any) -> Lot:
        of_lot = {
            name: fields.pop(name) for name in ("expires_at", "supplier_lot_code") if name in fields
        }
        given = {
            "name": f"Lure {item_code}",
            "kind": "lure",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
            **fields,
        }
        create_item(code=item_code, fields=given, by=owner, at=MONDAY)  # type: ignore[arg-type]
        return take_in(owner, item_code, pieces, lot_code=lot_code, **of_lot)

    return lot


def take_in(by: User, item_code: str, pieces: int = 100, **given: Any) -> Lot:
    """Take another lot of an item in."""
    opening = OpeningLot(item_code=item_code, qty_base=pieces, value_micro=0, **given)
    return take_in_opening_lots(lots=[opening], stamp=stamp_at(by, MONDAY)).made[0]
