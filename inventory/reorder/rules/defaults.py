"""What holds for an item that nobody set anything for."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from inventory.reorder.rules.points import Service

SERVICE_DEFAULT: Final = Service.FILL
"""What an owner asks: was it there when we needed it?"""

SERVICE_LEVEL_DEFAULT: Final = Decimal("0.98")
"""Of fifty hooks needed one may be waited for; common practice, no source."""

REVIEW_DAYS_DEFAULT: Final = 7
"""Somebody looks at the reorder list once a week; common practice, no source."""

ORDER_COST_MICRO_DEFAULT: Final = 25_000_000
"""25.00 in the shop's currency: about an hour to order, receive and pay; no source."""

HOLDING_RATIO_PER_YEAR_DEFAULT: Final = Decimal("0.25")
"""A quarter of the value a year: capital, room, risk; common practice, no source."""
