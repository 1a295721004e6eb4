"""Arithmetic of orders: what a delivery costs at the price of its order line."""

from __future__ import annotations


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
