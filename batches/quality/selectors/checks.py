"""Reads of checks: the list, one, and what was tested by entry."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Q, QuerySet

from batches.quality.models import Check, CheckKind, CheckResult
from batches.runs.models import ScrapReason
from inventory.stock.selectors.among import Among
from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.errors import NotFoundError


class ResultRow(NamedTuple):
    """What was found of one piece, or of several alike."""

    equipment: str | None
    tested: int
    failed: int
    value: str | None


class CheckRow(NamedTuple):
    """A check as the API answers it."""

    code: str
    definition: str
    kind: str
    lot: str | None
    batch: str
    entry: str | None
    at: datetime
    recorded_at: datetime
    by: str
    reason: str
    lot_pieces: int
    tested: int
    failed: int
    is_passed: bool
    plan_pieces: int
    accept: int
    reject: int
    letter: str
    severity: str
    replaces: str | None
    replaced_by: str | None
    holds: list[str]
    results: list[ResultRow]


class TestedRow(NamedTuple):
    """Pieces of an entry that a check tested, by station or cavity where known."""

    entry_id: int
    check_id: int
    definition: str
    defect: str | None
    equipment_id: int | None
    tested: int
    failed: int


class BatchTestedRow(NamedTuple):
    """Pieces that a check of a whole batch tested; `row` names no entry.

    Attributes:
        at: When it was tested: of what was made until then.
        lot_pieces: Good pieces that there were.
    """

    batch_id: int
    at: datetime
    lot_pieces: int
    row: TestedRow


TESTED_COLUMNS = (
    "check_row_id",
    "check_row__definition__code",
    "check_row__definition__defect__code",
    "equipment_id",
    "tested",
    "failed",
)


def checks() -> QuerySet[Check]:
    """Checks, to be filtered and paged; four statements a page."""
    return Check.objects.select_related(
        "definition", "lot", "batch", "by", "replaced_by"
    ).prefetch_related("results__equipment", "holds")


def check_row(code: str) -> CheckRow:
    """One check.

    Raises:
        NotFoundError: no such check.
    """
    row = checks().filter(pk=decode(code, Prefix.CHECK)[1]).first()
    if row is None:
        raise NotFoundError("No check has this code.", check=code)
    return row_of(row)


def row_of(check: Check) -> CheckRow:
    """A row, out of what `checks` has loaded."""
    replaced_by = getattr(check, "replaced_by", None)
    return CheckRow(
        code=check.code,
        definition=check.definition.code,
        kind=check.definition.kind,
        lot=None if check.lot is None else check.lot.code,
        batch=check.batch.code,
        entry=None if check.entry_id is None else encode(check.entry_id, Prefix.ENTRY),
        at=check.at,
        recorded_at=check.recorded_at,
        by=check.by.username,
        reason=check.reason,
        lot_pieces=check.lot_pieces,
        tested=check.tested,
        failed=check.failed,
        is_passed=check.is_passed,
        plan_pieces=check.plan_pieces,
        accept=check.accept,
        reject=check.reject,
        letter=check.letter,
        severity=check.severity,
        replaces=None if check.replaces_id is None else encode(check.replaces_id, Prefix.CHECK),
        replaced_by=None if replaced_by is None else replaced_by.code,
        holds=[encode(each.hold_id, Prefix.HOLD) for each in check.holds.all()],
        results=[
            ResultRow(
                equipment=None if each.equipment is None else each.equipment.code,
                tested=each.tested,
                failed=each.failed,
                value=None if each.value is None else f"{each.value.normalize():f}",
            )
            for each in check.results.all()
        ],
    )


class Tested(NamedTuple):
    """What checks found of entries, and of whole batches that several entries made."""

    by_entry: list[TestedRow]
    by_batch: list[BatchTestedRow]


def pieces_tested(entry_ids: Iterable[int], batch_ids: Iterable[int], *, defect: str) -> Tested:
    """What checks found of the pieces of these; replaced checks are left out.

    Flaws are not pieces, so checks that count them are left out too. One statement.

    Args:
        entry_ids: Of entries.
        batch_ids: Of batches that were checked as a whole.
        defect: Code of what failing pieces would be scrapped for; empty: whatever it is.
    """
    rows = _results_for(defect).filter(
        Q(Among("check_row__entry", entry_ids))
        | Q(Among("check_row__batch", batch_ids), check_row__entry__isnull=True)
    )
    columns = ("entry_id", "batch_id", "at", "lot_pieces")
    found = Tested([], [])
    for entry_id, batch_id, at, pieces, *row in rows.values_list(
        *(f"check_row__{name}" for name in columns), *TESTED_COLUMNS
    ):
        if entry_id is None:
            found.by_batch.append(BatchTestedRow(batch_id, at, pieces, TestedRow(0, *row)))
        else:
            found.by_entry.append(TestedRow(entry_id, *row))
    return found


def _results_for(defect: str) -> QuerySet[CheckResult]:
    """Results of checks that stand and judge pieces, in order. No statement by itself."""
    rows = CheckResult.objects.filter(check_row__replaced_by__isnull=True)
    rows = rows.exclude(check_row__definition__kind=CheckKind.FLAWS).order_by("pk")
    return rows.filter(check_row__definition__defect__code=defect) if defect else rows


def stages_checked_for(
    defect: ScrapReason, first_at: datetime, last_at: datetime
) -> QuerySet[Check, Any]:
    """Stages at which checks for a defect were made in a time. No statement by itself."""
    found = Check.objects.filter(
        definition__defect=defect, at__gte=first_at, at__lte=last_at, replaced_by__isnull=True
    )
    return found.exclude(definition__kind=CheckKind.FLAWS).order_by().values("definition__stage")
