"""Stages, bills and their revisions, as lists and one by one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final, NamedTuple

from django.db.models import Count, F, Max, Q, QuerySet

from batches.bills.models import Bill, BillRevision, LineRole, RevisionState, Stage
from batches.bills.rules import compare
from batches.bills.selectors.sheets import BillSheet, SheetLine, sheet, sheets_of
from shopfloor.errors import NotFoundError

# What doors offer to choose from: they may not import the tables.
LINE_ROLES: Final = LineRole.choices
REVISION_STATES: Final = RevisionState.choices


class RevisionRow(NamedTuple):
    """One revision in a bill's list."""

    number: int
    state: str
    scrap_ratio: Decimal
    note: str
    by: str
    recorded_at: datetime
    released_at: datetime | None
    retired_at: datetime | None


@dataclass(frozen=True, slots=True)
class BillDetail:
    """A bill: all its revisions, newest first, and one of them with its lines."""

    sheet: BillSheet
    revisions: tuple[RevisionRow, ...]


class LineChange(NamedTuple):
    """A line that two revisions have differently."""

    before: SheetLine
    after: SheetLine


@dataclass(frozen=True, slots=True)
class Comparison:
    """What the later of two revisions added, dropped and changed."""

    before: BillSheet
    after: BillSheet
    added: tuple[SheetLine, ...]
    dropped: tuple[SheetLine, ...]
    changed: tuple[LineChange, ...]


def stages() -> QuerySet[Stage]:
    """Stages, to be filtered and paged; two statements a page."""
    return Stage.objects.select_related("place")


def stage(code: str) -> Stage:
    """One stage. One statement.

    Raises:
        NotFoundError: no such stage.
    """
    row = stages().filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError("No stage has this code. Look at the list.", stage=code)
    return row


def bills() -> QuerySet[Bill]:
    """Bills and their current revisions, to be filtered and paged; two statements a page."""
    is_current = Q(revisions__state=RevisionState.CURRENT)
    is_draft = Q(revisions__state=RevisionState.DRAFT)
    return Bill.objects.select_related("item", "stage").annotate(
        item_code=F("item__code"),
        stage_code=F("stage__code"),
        current_number=Max("revisions__number", filter=is_current),
        released_at=Max("revisions__released_at", filter=is_current),
        drafts=Count("revisions", filter=is_draft),
    )


def mixed_at(item_ids: Collection[int]) -> dict[int, str]:
    """Those of the items that a released bill mixes, with the stage that does. One statement."""
    if not item_ids:
        return {}
    mixing = Bill.objects.filter(
        item__in=item_ids, stage__is_mixing=True, revisions__state=RevisionState.CURRENT
    )
    return dict(mixing.values_list("item_id", "stage__code"))


def bill_detail(item_code: str, number: int | None = None) -> BillDetail:
    """A bill and one revision: the one named, else the current, else the newest. Two statements.

    Raises:
        NotFoundError: no such bill or revision.
    """
    code = item_code.strip().upper()
    rows = (
        BillRevision.objects.filter(bill__item__code=code)
        .order_by("-number")
        .values_list(
            "pk", "number", "state", "scrap_ratio", "note", "by__username",
            "recorded_at", "released_at", "retired_at",
        )
    )  # fmt: skip
    ids: dict[int, int] = {}
    revisions: list[RevisionRow] = []
    for row in rows:
        revisions.append(RevisionRow(*row[1:]))
        ids[revisions[-1].number] = row[0]
    if not revisions:
        raise NotFoundError("The item has no bill of materials. Make one first.", item=item_code)
    chosen = _chosen(revisions) if number is None else number
    if chosen not in ids:
        raise NotFoundError(
            "The bill has no such revision. Look at its list.", item=code, revision=number
        )
    return BillDetail(sheet=sheet(ids[chosen]), revisions=tuple(revisions))


def comparison(item_code: str, *, a: int, b: int) -> Comparison:
    """What revision `b` of a bill has other than `a`, by role and item. One statement.

    Raises:
        NotFoundError: no such bill or revision.
    """
    code = item_code.strip().upper()
    found = {one.number: one for one in sheets_of(code, {a, b})}
    missing = sorted({a, b} - found.keys())
    if missing:
        raise NotFoundError(
            "The bill has no such revision. Look at its list.", item=code, revisions=missing
        )
    before, after = found[a], found[b]
    difference = compare(_by_item(before), _by_item(after))
    return Comparison(
        before=before,
        after=after,
        added=tuple(difference.added.values()),
        dropped=tuple(difference.dropped.values()),
        changed=tuple(LineChange(*pair) for pair in difference.changed.values()),
    )


def _chosen(revisions: Sequence[RevisionRow]) -> int:
    current = [row.number for row in revisions if row.state == RevisionState.CURRENT]
    return (current or [revisions[0].number])[0]


def _by_item(one: BillSheet) -> dict[tuple[str, str], SheetLine]:
    return {(line.role, line.item.code): line for line in one.lines}
