"""What was seen, in plain words."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple


class Seen(NamedTuple):
    """A rise as it was seen.

    Attributes:
        definition: Code of the check; empty: complaints.
        since_on: The day of the test with which it began most likely.
        tested: Pieces tested since, or for complaints pieces that left in as many days.
        failed: Failing pieces or flaws since, or complaints.
        tested_before: The same of what came before.
        failed_before: The same of what came before.
    """

    definition: str
    since_on: date
    tested: int
    failed: int
    tested_before: int
    failed_before: int


def seen_sentence(seen: Seen) -> str:
    """How often pieces fail since a day, and how often they did before."""
    since = _of(seen, seen.failed, seen.tested)
    before = _of(seen, seen.failed_before, seen.tested_before)
    return f"Since {seen.since_on.isoformat()} {since}; before, {before}."


def _of(seen: Seen, failed: int, tested: int) -> str:
    pieces = f"{tested:,} piece{'' if tested == 1 else 's'}"
    if seen.definition:
        share = f" ({failed / tested:.2%})" if tested else ""
        return f"{failed:,} of {pieces} failed check {seen.definition}{share}"
    return f"{failed:,} complaint{'' if failed == 1 else 's'} came while {pieces} left"
