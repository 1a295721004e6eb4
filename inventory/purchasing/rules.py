"""Arithmetic of orders and receipts: what a delivery costs, what a supplier's label says came."""

from __future__ import annotations

from decimal import Decimal

from shopfloor.codes.gs1 import GTIN_LENGTHS
from shopfloor.codes.gs1.deliveries import Delivered, Measure
from shopfloor.units import BASE_UNIT, UNITS, Dimension


def delivery_value_micro(
    *, before_base: int, now_base: int, pack_base: int, pack_price_micro: int
) -> int:
    """Value of one delivery of an order line, in millionths of the currency.

    Part deliveries are valued so that they add up: each gets what all so far are worth, rounded
    down once, less what those before it are worth. The delivery that completes the line has the
    rest, so a line received in full is worth packs times price exactly.

    Args:
        before_base: Base units received on the line before, >= 0.
        now_base: Base units received now, >= 1.
        pack_base: Base units in one pack, >= 1.
        pack_price_micro: Price of one pack, >= 0.
    """
    assert before_base >= 0
    assert now_base >= 1
    so_far = (before_base + now_base) * pack_price_micro // pack_base
    return so_far - before_base * pack_price_micro // pack_base


def open_base(*, ordered_base: int, received_base: int, is_closed: bool) -> int:
    """Base units still to come on an order line; nothing once it is closed or more came."""
    return 0 if is_closed else max(ordered_base - received_base, 0)


def labeled_amount(
    said: Delivered, *, dimension: Dimension, article_base: int | None
) -> Measure | None:
    """How much of an item a supplier's label says came; None: it does not say, or not clearly.

    Pieces (30) of what is counted; a net measure of the item's own dimension; or articles (37)
    times what is in one. A measure beside a number of articles may be of one or of all of them, so
    it is left to the person.

    Args:
        said: What the label says.
        dimension: What the item is measured by.
        article_base: Base units of the item in one article of the label's GTIN, >= 1; None:
            nobody wrote it down.
    """
    if said.articles is None:
        if dimension is Dimension.COUNT and said.pieces:
            return Measure(Decimal(said.pieces), BASE_UNIT[dimension])
        fitting = (each for each in said.measures if UNITS[each.unit].dimension is dimension)
        return next((each for each in fitting if each.amount), None)
    if not said.articles or article_base is None or said.measures or said.pieces is not None:
        return None
    return Measure(Decimal(said.articles * article_base), BASE_UNIT[dimension])


def is_about(amount_base: int, *, labeled_base: int, step_base: int) -> bool:
    """Whether an amount is one that a label would show so: half of its last place either way.

    Args:
        amount_base: As typed or weighed, in base units.
        labeled_base: As on the label.
        step_base: What one in the label's last place is worth, >= 1.
    """
    return 2 * abs(amount_base - labeled_base) <= step_base


def gtin_spellings(gtin: str) -> list[str]:
    """A GTIN of 14 digits as people write it: with fewer zeros before it, 13, 12 or 8 digits."""
    lengths = (length for length in GTIN_LENGTHS if not gtin[:-length].strip("0"))
    return [gtin[-length:] for length in lengths]
