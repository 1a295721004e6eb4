"""What each paper says, as text ready to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from shopfloor.codes.gs1.elements import ElementString

SAFETY_ADVICE: Final = "Follow the safety data sheet; local codes and your safety officer decide."
"""Beside every hazard text. We pass on what the maker wrote and never classify a hazard."""

PICTOGRAMS: Final = MappingProxyType(
    {
        "GHS01": "exploding bomb",
        "GHS02": "flame",
        "GHS03": "flame over circle",
        "GHS04": "gas cylinder",
        "GHS05": "corrosion",
        "GHS06": "skull and crossbones",
        "GHS07": "exclamation mark",
        "GHS08": "health hazard",
        "GHS09": "environment",
    }
)
"""Names of the pictograms (UN Globally Harmonized System, annex 1; from memory)."""


TITLES: Final = MappingProxyType(
    {
        "lots": "Lot sticker",
        "boxes": "Box label",
        "cartons": "Carton label",
        "batches": "Traveler",
        "holds": "Hold tag",
        "places": "Shelf label of a place",
        "items": "Shelf label of an item",
        "counts": "Count sheet",
        "shipments": "Packing list",
        "records": "Batch record",
        "recalls": "Recall case",
        "supplier-orders": "Supplier order",
    }
)
"""Of the kinds of papers, for people, by their names in addresses and records."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What every paper has: content only, whatever it is printed on.

    Attributes:
        code: Of what it is about; in its symbol and in large type.
        print_note: A short line that is shown small: `Reprint 1, 2026-11-27`; or empty.
    """

    code: str
    print_note: str = ""


@dataclass(frozen=True, slots=True)
class BoxItem:
    """One item in a box.

    Attributes:
        title: Model, or the item's name.
        subtitle: Colorway, or empty.
        item: The item's code.
        pieces: In this box and the boxes in it.
        lots: Codes of its lots, each with its pieces where there are several.
        dates: When its lots came to be: `Made 2026-03-01 to 2026-03-04`; or empty.
    """

    title: str
    subtitle: str
    item: str
    pieces: int
    lots: tuple[str, ...]
    dates: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLabel(Paper):
    """A box label; `code` is in the symbols and in large type.

    Attributes:
        elements: What is in it, for a link: an article of the shop's own GTIN, and of one lot the
            lot; none: there is no such GTIN, or there are several.
    """

    pieces: int
    items: tuple[BoxItem, ...]
    elements: ElementString | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLabel(Paper):
    """A sticker for a lot.

    Attributes:
        dates: Words and day: `("Received", "2026-03-01")`.
        use_by: Day, with the time where it is not the end of a day; or empty.
        hazard_text: From the safety data sheet, word for word, or empty.
        pictograms: Codes from the safety data sheet: `("GHS02", "GHS07")`.
        opened_life: How long it keeps once it is open, `30 days`; empty: opening changes nothing.
        opened: Day, or day and time; empty: it is written in by hand.
        discard_by: Likewise.
    """

    item: str
    item_name: str
    dates: tuple[str, str]
    use_by: str = ""
    supplier_lot: str = ""
    hazard_text: str = ""
    pictograms: tuple[str, ...] = ()
    opened_life: str = ""
    opened: str = ""
    discard_by: str = ""


@dataclass(frozen=True, slots=True)
class TravelerNeed:
    """A bill line of a batch: what it takes and the lots to take first."""

    item: str
    item_name: str
    amount: str
    lots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Traveler(Paper):
    """The sheet that goes with a batch.

    Attributes:
        stage: Name of its own stage.
        state: Of the batch: `running`.
        planned: Good pieces wanted, with their unit.
        made: What its entries add up to: `6 each good, 0 each scrapped`; empty before the first.
        left: What is still to make, with its unit, or why that is nothing.
        comes_from: The stages before: `Molding: HALF-L, HALF-R`.
        goes_to: The stages after, likewise.
        equipment: Codes of the equipment used so far.
        needs: What is taken for what is left, with lots to take first and how much of each.
        hazards: Codes of the items, taken or made, that carry hazard data.
    """

    item: str
    item_name: str
    stage: str
    planned: str
    state: str = ""
    made: str = ""
    left: str = ""
    comes_from: tuple[str, ...] = ()
    goes_to: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    planned_on: str = ""
    bill: str = ""
    note: str = ""
    needs: tuple[TravelerNeed, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterTest(Paper):
    """A label that measures the printer; `code` is the name of the stock."""


def pieces_text(count: int) -> str:
    """`1 piece`, `24 pieces`."""
    return f"{count} piece" if count == 1 else f"{count} pieces"
