"""A batch from its plan to its end."""

from __future__ import annotations

from datetime import datetime

from batches.bills.models import Stage
from batches.runs.errors import WrongBatchStateError
from batches.runs.models import Batch, BatchState, Entry, ScrapReason
from batches.runs.steps.batches import BatchPlan, change_state, plan_batch
from batches.runs.steps.drafts import EntryDraft
from batches.runs.steps.entering import lock_batch, record_entry, reverse_entry
from batches.runs.steps.recorded import RecordedRow, recorded_row
from inventory.catalog.errors import DuplicateCodeError
from inventory.stock.steps import Posted
from shopfloor.audit import audit_change
from shopfloor.codes.alphabet import own_code
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def plan(*, plan: BatchPlan, stamp: Stamp) -> Batch:
    """Plan a batch; see `plan_batch` for what it refuses."""
    return plan_batch(plan, stamp)


@operation
def ready_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """Give a planned batch to the bench: it waits, idle, for its start."""
    return _changed(batch_code, BatchState.IDLE, stamp)


@operation
def start_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """Start a planned or idle batch; from now on it takes entries."""
    return _changed(batch_code, BatchState.RUNNING, stamp, only_from=("planned", "idle"))


@operation
def hold_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """Pause a running batch, with a reason."""
    stamp.refuse_no_reason()
    return _changed(batch_code, BatchState.HELD, stamp)


@operation
def resume_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """Let a held batch run again."""
    return _changed(batch_code, BatchState.RUNNING, stamp, only_from=("held",))


@operation
def complete_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """End a running batch that has made what it will make."""
    batch = lock_batch(batch_code)
    if not batch.entries.filter(posting__reversed_by__isnull=True).exists():
        raise WrongBatchStateError(
            "Nothing was recorded for this batch. Record an entry, or abort it.",
            batch=batch.code,
            state=batch.state,
        )
    change_state(batch, BatchState.COMPLETE, stamp)
    return batch


@operation
def abort_batch(*, batch_code: str, stamp: Stamp) -> Batch:
    """End a batch for good before its time, with a reason; its entries stand."""
    stamp.refuse_no_reason()
    return _changed(batch_code, BatchState.ABORTED, stamp)


@operation
def record(*, draft: EntryDraft, stamp: Stamp) -> RecordedRow:
    """Record an entry; see `record_entry` for what it refuses."""
    return recorded_row(record_entry(draft, stamp))


@operation
def reverse(*, entry_code: str, stamp: Stamp) -> tuple[Entry, Posted]:
    """Undo an entry wholly, with a reason; see `reverse_entry` for what stands in the way."""
    stamp.refuse_no_reason()
    return reverse_entry(entry_code, stamp)


@operation
def add_scrap_reason(
    *, code: str, name: str, by: User, at: datetime, stage_code: str = ""
) -> ScrapReason:
    """Add a reason for scrap, at one stage or at all.

    Raises:
        OwnCodeError: not a code.
        NotFoundError: no such stage.
        DuplicateCodeError: the code is taken.
    """
    code = own_code(code)
    stage = Stage.objects.filter(code=stage_code).first() if stage_code else None
    if stage_code and stage is None:
        raise NotFoundError("No stage has this code.", stage=stage_code)
    if ScrapReason.objects.filter(code=code).exists():
        raise DuplicateCodeError("A scrap reason has this code.", codes=[code])
    reason = ScrapReason.objects.create(code=code, name=name, stage=stage)
    audit_change(by=by, at=at, row=reason, before=None)
    return reason


def _changed(
    batch_code: str, after: BatchState, stamp: Stamp, only_from: tuple[str, ...] = ()
) -> Batch:
    batch = lock_batch(batch_code)
    if only_from and batch.state not in only_from:
        raise WrongBatchStateError(
            f"The batch is {batch.state}; this needs one that is {' or '.join(only_from)}.",
            batch=batch.code,
            state=batch.state,
        )
    change_state(batch, after, stamp)
    return batch
