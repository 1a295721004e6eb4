"""Steps that keep who changed what in a plain table, and who came in; the ledger is its own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db.models import Model

from shopfloor.models import AccessEvent, AccessKind, Change, Token, User


def facts_of(row: Model) -> dict[str, object]:
    """The row's fields as the audit keeps them, without those in its `hidden_from_audit`."""
    hidden: frozenset[str] = getattr(row, "hidden_from_audit", frozenset())
    return {
        field.name: field.value_from_object(row)
        for field in row._meta.concrete_fields
        if field.name not in hidden
    }


def audit_change(
    *,
    by: User,
    at: datetime,
    row: Model,
    before: Mapping[str, object] | None,
    after: Mapping[str, object] | None = None,
) -> Change | None:
    """Keep the fields that differ; nothing is kept when none does.

    Args:
        by: Who made the edit.
        at: When.
        row: The row as it now stands; its `code` (else its id) names it.
        before: `facts_of(row)` taken before the edit; `None` for a new row.
        after: `facts_of(row)` when left out.
    """
    after = facts_of(row) if after is None else after
    old = before or {}
    changed = [name for name, value in after.items() if name not in old or old[name] != value]
    if not changed:
        return None
    return Change.objects.create(
        at=at,
        by=by,
        table=row._meta.db_table,
        row_code=str(getattr(row, "code", row.pk)),
        before=None if before is None else {name: old.get(name) for name in changed},
        after={name: after[name] for name in changed},
    )


def note_access(
    kind: AccessKind,
    *,
    person: User | None,
    by: User | None,
    at: datetime,
    token: Token | None = None,
    address: str | None = None,
) -> None:
    """Keep what happened to somebody's way in.

    Args:
        kind: What.
        person: Whose way in; `None` where nobody has the name that was given.
        by: Who did it; `None` where that is not known.
        at: When.
        token: The token it is about.
        address: The network address it came from.
    """
    AccessEvent.objects.create(kind=kind, person=person, by=by, at=at, token=token, address=address)
