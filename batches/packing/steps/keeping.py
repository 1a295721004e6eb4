"""The audit of boxes and orders: what changed, and why if somebody said so."""

from __future__ import annotations

from collections.abc import Mapping

from django.db.models import Model

from shopfloor.audit import audit_change, facts_of
from shopfloor.stamp import Stamp


def keep_change(row: Model, before: Mapping[str, object], stamp: Stamp) -> None:
    """Keep an edit of a locked row with the reason of the stamp.

    Args:
        row: As it now stands.
        before: `facts_of(row)` taken before the edit.
        stamp: Who, when, why.
    """
    audit_change(
        by=stamp.by,
        at=stamp.now,
        row=row,
        before={**before, "reason": ""},
        after={**facts_of(row), "reason": stamp.reason},
    )
