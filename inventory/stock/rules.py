"""Arithmetic of lots: what a count difference is worth, and what code the shop may give one."""

from __future__ import annotations

import re
from typing import Final

from shopfloor.codes.alphabet import own_code
from shopfloor.codes.errors import OwnCodeError
from shopfloor.money import share

_CODE_OF_A_PART: Final = re.compile(r"\.[0-9]+$")


def own_lot_code(text: str) -> str:
    """A code the shop gives a lot, in the one form it is kept in.

    Raises:
        OwnCodeError: as any code of the shop's own; or it ends like the code of a part, which a lot
            that is split later would need.
    """
    code = own_code(text)
    if _CODE_OF_A_PART.search(code):
        raise OwnCodeError(
            "A lot's code may not end in a point and a number: the codes of its parts do. Write a "
            "hyphen.",
            text=code,
        )
    return code


def count_difference_micro(
    *, found_base: int, on_hand_base: int, value_micro: int, inflow_base: int, inflow_micro: int
) -> int:
    """Value of a count difference, in millionths of the currency, with the sign of the difference.

    What is missing leaves with its share of the value, as if taken; what is too much comes in at
    the lot's present
    value a unit, or, when the books say it is empty, at what its whole inflow cost a unit. Rounded
    down in size.

    Args:
        found_base: What was found, base units, >= 0.
        on_hand_base: What the books say, >= 0.
        value_micro: What that is worth.
        inflow_base: All that ever came in, >= 0; used only when the books say empty.
        inflow_micro: What that was worth.
    """
    assert found_base >= 0
    if found_base < on_hand_base:
        return -share(value_micro, on_hand_base - found_base, on_hand_base)
    more = found_base - on_hand_base
    if on_hand_base > 0:
        return value_micro * more // on_hand_base
    return inflow_micro * more // inflow_base if inflow_base > 0 else 0
