"""Names of the ways to gather needs into orders; light, for models have them."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

NO_LIMIT: Final = 10_000
"""More weeks than any plan has."""


class LotSizing(StrEnum):
    """How needs are gathered into orders."""

    LOT_FOR_LOT = "lot_for_lot"
    FIXED = "fixed"
    PERIOD = "period"
    WAGNER_WHITIN = "wagner_whitin"
    SILVER_MEAL = "silver_meal"
    PART_PERIOD = "part_period"
