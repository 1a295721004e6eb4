"""How many ledgers made at random a test plays."""

from __future__ import annotations

import os

from django.db import connection
from hypothesis import settings


def few_of(number: int) -> int:
    """A fifth on PostgreSQL where SQLite plays all of them.

    What may differ there is the statements, and a few ledgers ask all of those.
    """
    is_tried_elsewhere = os.environ.get("SHOP_NOTHING_SKIPPED") == "1"
    return number // 5 if is_tried_elsewhere and connection.vendor == "postgresql" else number


def ledgers(number: int) -> settings:
    """So many, by `few_of`."""
    return settings(max_examples=few_of(number))
