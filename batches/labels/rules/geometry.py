"""Label stock and whole printer dots.

A printer cannot draw part of a dot: a symbol whose modules are not whole dots scans badly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

POINTS_PER_INCH: Final = 72

DPIS: Final = (203, 300)
"""What label printers have: 8 dots a millimeter, sold as 203 dpi, and 300 (common practice, no
source)."""

DATAMATRIX_DOTS_MIN: Final = 3
CODE128_DOTS_MIN: Final = 2
"""Dots a module at the least, at 203 dpi 0.38 and 0.25 mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One size of label or sheet, upright as it is read.

    Attributes:
        name: As people say it, inches.
        width_in: Width.
        height_in: Height.
        margin_in: Kept clear at each edge: a printer is never quite in line with its stock.
    """

    name: str
    width_in: int | float
    height_in: int | float
    margin_in: float = 0.0625

    def dots(self, dpi: int) -> tuple[int, int]:
        """Width and height in whole printer dots: 4 inches are 812 dots at 203 dpi."""
        return round(self.width_in * dpi), round(self.height_in * dpi)


# Thermal rolls are known by their size (common practice, no source).
STOCKS: Final = {
    stock.name: stock
    for stock in (
        Stock("4x6", 4, 6),
        Stock("4x2", 4, 2),
        Stock("2x1", 2, 1),
        Stock("letter", 8.5, 11, margin_in=0.5),
    )
}

BOX_STOCKS: Final = ("4x6",)
LOT_STOCKS: Final = ("2x1", "4x2")
TRAVELER_STOCKS: Final = ("letter",)


def lot_stock(*, has_hazard: bool) -> str:
    """The stock of a lot sticker when nobody names one: hazard text needs the larger."""
    return "4x2" if has_hazard else "2x1"


def whole_dots(*, modules: int, space_dots: int, dots_min: int, dots_max: int) -> int:
    """Dots a module so that a symbol fits a space, as many as can be; 0 when it does not fit.

    Args:
        modules: Of the symbol with its quiet zones, along one side, >= 1.
        space_dots: Of the space, along that side.
        dots_min: Fewest dots a module.
        dots_max: Most dots a module.
    """
    assert modules >= 1
    dots = min(space_dots // modules, dots_max)
    return dots if dots >= dots_min else 0
