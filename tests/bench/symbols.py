"""How fast symbols of 1,000 labels are made, beside an encoder in C++ that draws them too."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import zxingcpp

from shopfloor.codes.gs1.elements import ElementString, element_string, read_elements
from shopfloor.codes.gs1.links import digital_link
from shopfloor.codes.symbols import code128_widths, datamatrix_modules, qr_modules
from tests.bench.figures import Figure, seconds

LABELS = 1000
STEM = "https://shop.example"


def rows() -> Iterator[Figure]:
    """1,000 different symbols of each kind, and as many element strings built and read."""
    data = [_label(number) for number in range(LABELS)]
    links = [digital_link(elements, stem=STEM) for elements in data]
    texts = [elements.symbol_text for elements in data]
    formats = zxingcpp.BarcodeFormat
    yield _figure("GS1-128", code128_widths, texts, _bare(data, formats.Code128), 0.3)
    yield _figure("GS1 DataMatrix", datamatrix_modules, texts, _bare(data, formats.DataMatrix), 0.1)
    yield _figure("QR of a Digital Link", qr_modules, links, _bare_links(links), 0.05)
    yield Figure(
        f"{LABELS} element strings built and read, beside {LABELS} GS1 DataMatrix",
        seconds(lambda: [read_elements(_label(number).data) for number in range(LABELS)], times=3),
        _each(datamatrix_modules.__wrapped__, texts),
        1,
    )


def _label(number: int) -> ElementString:
    return element_string({"01": "09521234543213", "17": "271231", "10": f"LOT{number:05d}A"})


def _figure(
    what: str,
    make: Callable[[str], object],
    texts: list[str],
    bare: Callable[[], object],
    goal: float,
) -> Figure:
    # Each text once: what is kept of earlier ones is not what is measured.
    uncached: Callable[[str], object] = make.__wrapped__  # type: ignore[attr-defined]
    return Figure(f"{LABELS} symbols, {what}", _each(uncached, texts), seconds(bare, times=3), goal)


def _each(make: Callable[[str], object], texts: list[str]) -> float:
    return seconds(lambda: [make(text) for text in texts], times=3)


def _bare(data: list[ElementString], kind: zxingcpp.BarcodeFormat) -> Callable[[], object]:
    humans = [elements.human for elements in data]
    return lambda: [
        zxingcpp.create_barcode(human, kind, gs1=True, force_square=True).to_image()
        if kind == zxingcpp.BarcodeFormat.DataMatrix
        else zxingcpp.create_barcode(human, kind, gs1=True).to_image()
        for human in humans
    ]


def _bare_links(links: list[str]) -> Callable[[], object]:
    return lambda: [
        zxingcpp.create_barcode(link, zxingcpp.BarcodeFormat.QRCode).to_image() for link in links
    ]
