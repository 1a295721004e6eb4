"""How many examples made at random a test plays."""

from __future__ import annotations

import os

from django.db import connection
from hypothesis import settings


def few_of(number: int, *, least: int = 1) -> int:
    """A fifth on PostgreSQL where SQLite plays all of them, or the least that tells something.

    What may differ there is the statements, and a few examples ask all of those.
    """
    is_tried_elsewhere = os.environ.get("SHOP_NOTHING_SKIPPED") == "1"
    is_few = is_tried_elsewhere and connection.vendor == "postgresql"
    return max(number // 5, least) if is_few else number


def ledgers(number: int) -> settings:
    """So many, by `few_of`."""
    return settings(max_examples=few_of(number))
