"""Papers of a shop that has an address: links that phones read, which lead back to the thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
import zxingcpp
from django.test import Client
from rest_framework.test import APIClient

from batches.labels.pdf import write_papers
from batches.labels.rules.papers import BoxLabel, LotLabel, Paper
from batches.labels.rules.papers_packing import CartonLabel, link_elements
from batches.labels.rules.papers_stock import CountSheet
from batches.labels.rules.stock import PrintJob
from batches.labels.selectors.boxes import box_labels
from batches.packing.models import Box
from batches.packing.operations import Part, pack_box
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches.labels.conftest import (
    Image,
    ink_um,
    job_on,
    overprinted,
    rendered,
    stamp_at,
    words,
)
from tests.batches.labels.samples import box, lot
from tests.batches.labels.test_pdf_kinds import LONG_ON_EVERY_STOCK, ON_EVERY_STOCK

GTIN, SHORT = "09521234543213", "https://shop.example"
IN_NUMBERS, LONG = "http://192.0.2.7:8000", f"https://{'w' * 44}.example"
ELEMENTS = link_elements(gtin=GTIN, lots=("L-2227.1",), prefix="9521234")
LINK = f"{SHORT}/01/{GTIN}/10/L-2227.1"
StockOf = Callable[..., Lot]
OWN_CODES = [
    (paper, stock)
    for paper, stock in ON_EVERY_STOCK
    if not isinstance(paper, CartonLabel | CountSheet)
]


def drawn(paper: Paper, stock: str, address: str, **given: Any) -> bytes:
    file = BytesIO()
    write_papers([paper], job=job_on(stock, address=address, **given), file=file)
    return file.getvalue()


def scanned(image: Image) -> set[tuple[str, str]]:
    kinds = [zxingcpp.BarcodeFormat[name] for name in ("Code128", "DataMatrix", "QRCode")]
    found = zxingcpp.read_barcodes(
        image, formats=zxingcpp.BarcodeFormats(kinds), text_mode=zxingcpp.TextMode.Plain
    )
    return {(symbol.format.name, symbol.text) for symbol in found}


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(
    ("paper", "stock"), [(lot(), "2x1"), (lot(), "letter-30"), (box(), "4x6"), *OWN_CODES]
)
def test_the_address_of_a_code_reads_back_from_every_stock(
    paper: Paper, stock: str, dpi: int
) -> None:
    pdf = drawn(paper, stock, IN_NUMBERS, dpi=dpi)
    read = scanned(rendered(pdf, dpi=dpi))
    assert ("QRCode", f"{IN_NUMBERS}/s/{paper.code}") in read
    assert {text for _, text in read} <= {f"{IN_NUMBERS}/s/{paper.code}", paper.code}
    text = words(pdf).replace("\n", "").replace("\ufffe", "-")  # as the reader has some hyphens
    assert paper.code in text


def test_where_an_address_does_not_fit_the_code_stands_alone() -> None:
    job = job_on("2x1", address=LONG)
    file = BytesIO()
    write_papers([lot()], job=replace(job, stock=replace(job.stock, margin_um=5_000)), file=file)
    assert scanned(rendered(file.getvalue(), dpi=203)) == {("DataMatrix", "L-2227")}


def test_without_an_address_papers_are_as_they_were() -> None:
    boxed = replace(box(), elements=ELEMENTS)
    assert drawn(boxed, "4x6", "") == drawn(box(), "4x6", "")
    assert ("DataMatrix", "X-2223") in scanned(rendered(drawn(boxed, "4x6", ""), dpi=203))


@pytest.mark.parametrize("address", [IN_NUMBERS, LONG])
@pytest.mark.parametrize(
    ("paper", "stock"),
    [
        *ON_EVERY_STOCK,
        *LONG_ON_EVERY_STOCK,
        (replace(box(), elements=ELEMENTS), "4x6"),
        (replace(box("W" * 24), elements=ELEMENTS, pieces=10**9), "letter-6"),
    ],
)
def test_nothing_lies_outside_its_label_nor_over_another_part(
    paper: Paper, stock: str, address: str
) -> None:
    pdf = drawn(paper, stock, address, is_demo=True)
    job: PrintJob = job_on(stock)
    left, top = job.stock.place_um(0)
    margin = job.stock.margin_um
    assert ink_um(pdf, dpi=203).is_within(
        left + margin,
        top + margin,
        left + job.stock.label_width_um - margin,
        top + job.stock.label_height_um - margin,
    )
    assert overprinted(pdf) == []


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("stock", ["4x6", "letter-6", "letter"])
def test_a_box_of_the_shops_own_articles_has_a_digital_link(stock: str, dpi: int) -> None:
    pdf = drawn(replace(box(), elements=ELEMENTS), stock, SHORT, dpi=dpi)
    assert scanned(rendered(pdf, dpi=dpi)) == {
        ("QRCode", LINK),
        ("DataMatrix", "X-2223"),
        ("Code128", "X-2223"),
    }
    assert f"(01){GTIN}" in words(pdf)
    assert "(10)L-2227.1" in words(pdf)


@pytest.mark.parametrize(
    ("gtin", "lots", "prefix", "human"),
    [
        (GTIN, ("M1",), "9521234", f"(01){GTIN}(10)M1"),
        (GTIN, ("M1", "M2"), "9521234", f"(01){GTIN}"),
        (GTIN, ("M" * 21,), "9521234", f"(01){GTIN}"),
        (GTIN, ("M1",), "9521235", None),
        (GTIN, ("M1",), "", None),
        ("", ("M1",), "9521234", None),
    ],
)
def test_a_link_says_the_article_and_of_one_lot_the_lot(
    gtin: str, lots: tuple[str, ...], prefix: str, human: str | None
) -> None:
    found = link_elements(gtin=gtin, lots=lots, prefix=prefix)
    assert (found and found.human) == human


@pytest.fixture
def packed(owner: User, stock_of: StockOf) -> Box:
    stock_of("MINNOW", lot_code="M1", gtin=GTIN)
    return pack_box(contents=[Part("M1", 24)], stamp=stamp_at(owner))


def test_what_papers_carry_leads_back_over_door_and_page(
    api: APIClient, owner: User, packed: Box, settings: Any
) -> None:
    settings.SHOP_ADDRESS = "http://testserver"
    pdf = api.get(f"/api/v1/labels/boxes/{packed.code}.pdf").content
    read = dict(scanned(rendered(pdf, dpi=203)))
    assert read["QRCode"] == f"http://testserver/01/{GTIN}/10/M1.1"
    pdf = api.get("/api/v1/labels/lots/M1.pdf").content
    [(_, address)] = scanned(rendered(pdf, dpi=203))
    assert address == "http://testserver/s/M1"
    person = Client()
    person.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    for sent, code in ((read["QRCode"], "M1.1"), (address, "M1"), (read["Code128"], packed.code)):
        assert api.get("/api/v1/scan/", {"code": sent}).json()["code"] == code
    for link, lot_code in ((read["QRCode"], "M1.1"), (address, "M1")):
        path = link.removeprefix("http://testserver")
        page = person.get(path, follow=True)
        assert f"<title>Lot {lot_code}</title>" in page.content.decode()
        assert api.get(path, follow=True).json()["code"] == lot_code
    assert person.get("/s/NONE").status_code == 404


def test_a_box_of_two_articles_or_anothers_has_none(
    owner: User, packed: Box, stock_of: StockOf
) -> None:
    stock_of("HOOK", lot_code="H1", gtin="09521235000012")
    other = pack_box(contents=[Part("H1", 1)], stamp=stamp_at(owner))
    both = pack_box(contents=[Part("M1", 1), Part("H1", 1)], stamp=stamp_at(owner))
    labels: list[BoxLabel] = box_labels([packed.code, other.code, both.code])
    assert [label.elements is None for label in labels] == [False, True, True]


def test_a_lot_sticker_with_a_long_name_keeps_its_code_whole() -> None:
    label: LotLabel = lot("L-2227.1", item_name="A name that is longer than its line on the label")
    assert "L-2227.1" in words(drawn(label, "2x1", IN_NUMBERS))
