"""What papers that leave with the goods say: carton labels and packing lists."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from batches.labels.rules.papers import BoxItem, Paper
from shopfloor.codes.gs1.elements import Element, ElementString, element_string
from shopfloor.codes.gs1.numbers import is_restricted

PIECES_MAX: Final = 99_999_999
"""Most pieces that identifier (37) has digits for."""

LOT_LENGTH_MAX: Final = 20
"""Longest lot code that identifier (10) takes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CartonLabel(Paper):
    """The label of a box that a carrier moves under its SSCC; `code` is the box's.

    Attributes:
        elements: What its symbols carry, the SSCC first.
        ship_to: Lines of the customer's name and address; none: it is not shipped yet, so there is
            room to write.
        order: The customer's order, or empty.
        carrier: Who takes it, or empty.
        pieces: All in it, those in its boxes too.
        items: What is in it.
    """

    elements: ElementString
    ship_to: tuple[str, ...]
    order: str = ""
    carrier: str = ""
    pieces: int
    items: tuple[BoxItem, ...]

    @property
    def sscc(self) -> str:
        """Its SSCC, 18 digits."""
        number = self.elements.value("00")
        assert number is not None
        return number


def carton_elements(*, sscc: str, gtin: str, pieces: int, lots: tuple[str, ...]) -> ElementString:
    """What the symbols of a carton carry: its SSCC, and what is in it where GS1 can say so.

    (00) alone, or with (02) and (37) where every piece is one article with a GTIN, or with (10)
    too where all are of one lot. A lot code that (10) cannot carry is left to the text beside.

    Args:
        sscc: 18 digits with the check digit.
        gtin: Of every piece in it, 14 digits; empty: there is none, or several.
        pieces: In the carton, >= 0.
        lots: Codes of their lots, each once.

    Raises:
        Gs1ValueError, CheckDigitError: not an SSCC or a GTIN.

    Source: GS1 Barcode Syntax Dictionary: (37) needs (00) and (02); (10) needs (02) and the like.
    """
    found = [Element("00", sscc)]
    if gtin and not is_restricted(gtin) and 0 < pieces <= PIECES_MAX:
        found += [Element("02", gtin), Element("37", str(pieces))]
        if len(lots) == 1 and len(lots[0]) <= LOT_LENGTH_MAX:
            found.append(Element("10", lots[0]))
    return element_string(found)


def link_elements(*, gtin: str, lots: tuple[str, ...], prefix: str) -> ElementString | None:
    """What a link on a box says of what is in it: (01), and of one lot (10).

    Args:
        gtin: Of every piece in it, 14 digits; empty: there is none, or several.
        lots: Codes of their lots, each once.
        prefix: The company prefix of the shop, or empty: it answers for no other's articles.
    """
    if not prefix or not gtin.startswith(prefix, 1):
        return None
    found = [Element("01", gtin)]
    if len(lots) == 1 and len(lots[0]) <= LOT_LENGTH_MAX:
        found.append(Element("10", lots[0]))
    return element_string(found)


class PackedLine(NamedTuple):
    """Pieces of one item in a box, or loose.

    Attributes:
        title: Model, or the item's name.
        subtitle: Colorway, or empty.
        lots: Codes, each with its pieces where there are several.
        purpose: Why they left, if not as a sale; or empty.
    """

    title: str
    subtitle: str
    item: str
    pieces: int
    lots: tuple[str, ...]
    purpose: str = ""


class PackedBox(NamedTuple):
    """A box of a shipment; without a code: what left in no box.

    Attributes:
        outer: The box that it stands in, or empty.
        sscc: Its SSCC, or empty.
    """

    code: str
    outer: str
    sscc: str
    pieces: int
    lines: tuple[PackedLine, ...]


class PackedTotal(NamedTuple):
    """All pieces of one item in a shipment."""

    title: str
    subtitle: str
    item: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingList(Paper):
    """What left to a customer, box by box; `code` is the shipment's. No prices.

    Attributes:
        ship_to: Lines of the customer's name and address.
        order: The customer's order, or empty.
        shipped_on: The shop's day, in ISO form.
    """

    ship_to: tuple[str, ...]
    order: str = ""
    carrier: str = ""
    shipped_on: str
    boxes: tuple[PackedBox, ...]
    totals: tuple[PackedTotal, ...]

    @property
    def pieces(self) -> int:
        """All of them."""
        return sum(total.pieces for total in self.totals)
