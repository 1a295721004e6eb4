"""Money as whole millionths of the shop's currency (micro), and how a value is shared out.

Shares are rounded down in size and the last one takes the rest: nothing appears or vanishes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from shopfloor.errors import InvalidInputError
from shopfloor.numerals import NumberTooLargeError, NumberTooPreciseError, parse_number

MICRO: Final = 1_000_000
"""Micro in one unit of the currency."""

VALUE_MICRO_MAX: Final = 10**15
"""Largest single value, either sign: a thousand million of the currency; 64 bits hold 9,200."""

_DECIMALS: Final = 6
_DECIMALS_SHOWN_MIN: Final = 2


class NothingToShareByError(InvalidInputError):
    """A value cannot be shared over nothing."""

    code = "nothing_to_share_by"


def parse_money(text: str, *, allow_negative: bool = False) -> int:
    """Micro in a price or value as written, like `12.50`; exact, never rounded.

    Raises:
        NumberTooPreciseError: more than six decimals.
        NumberTooLargeError: beyond `VALUE_MICRO_MAX`.
        InvalidInputError: any other refusal of `shopfloor.numerals.parse_number`.
    """
    number = parse_number(text, what="money amount", allow_negative=allow_negative)
    micro = number.scaleb(_DECIMALS)  # only moves the point: at most 18 digits
    if micro != micro.to_integral_value():
        raise NumberTooPreciseError(
            "Money has at most six decimals. Round it.", text=text.strip(), decimals_max=_DECIMALS
        )
    if abs(micro) > VALUE_MICRO_MAX:
        value_max = money_text(VALUE_MICRO_MAX)
        raise NumberTooLargeError(
            f"The money amount is larger than {value_max}. Check the digits.",
            text=text.strip(),
            value_max=value_max,
        )
    return int(micro)


def money_text(value_micro: int) -> str:
    """A decimal string without a currency sign: exact, at least two decimals, like `12.50`."""
    whole, micro = divmod(abs(value_micro), MICRO)
    decimals = f"{micro:06d}".rstrip("0").ljust(_DECIMALS_SHOWN_MIN, "0")
    return f"{'-' if value_micro < 0 else ''}{whole}.{decimals}"


def money_shown(value_micro: int) -> str:
    """For a page: two decimals, rounded half up in size, thousands set apart: `1,234.50`."""
    cents = (abs(value_micro) + MICRO // 200) // (MICRO // 100)
    sign = "-" if value_micro < 0 and cents else ""
    return f"{sign}{cents // 100:,}.{cents % 100:02d}"


def share(value_micro: int, part: int, whole: int) -> int:
    """The value of `part` out of `whole` amounts that together are worth `value_micro`.

    Rounded down in size (toward zero). Who takes the whole gets all, so an emptied lot is worth
    exactly nothing: `part` and `whole` are what is taken and what is still there.

    Args:
        value_micro: Value of the whole; may be negative (a credit).
        part: 0 <= part <= whole, in any unit.
        whole: >= 1, in the same unit.
    """
    assert whole >= 1
    assert 0 <= part <= whole
    size = abs(value_micro) * part // whole
    return -size if value_micro < 0 else size


def split_by_weights(value_micro: int, weights: Sequence[int]) -> list[int]:
    """Parts of a value in proportion to weights; they add up to it.

    Each is rounded down in size; the last that has a weight takes the rest, and one without a
    weight gets nothing.

    Args:
        value_micro: May be negative (a credit).
        weights: >= 0 each, in one unit; amounts, pieces or values.

    Raises:
        NothingToShareByError: the weights add up to nothing.
    """
    assert all(weight >= 0 for weight in weights)
    total = sum(weights)
    if total == 0:
        raise NothingToShareByError(
            "There is nothing to share this value by: every amount is zero.",
            value=money_text(value_micro),
        )
    parts = [share(value_micro, weight, total) for weight in weights]
    last = max(index for index, weight in enumerate(weights) if weight)
    parts[last] += value_micro - sum(parts)
    return parts
