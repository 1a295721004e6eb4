"""Business events of runs: planning, starting, entering, completing, correcting."""

from __future__ import annotations

from batches.runs.operations.running import (
    abort_batch,
    add_scrap_reason,
    complete_batch,
    hold_batch,
    plan,
    ready_batch,
    record,
    resume_batch,
    reverse,
    start_batch,
)

__all__ = [
    "abort_batch",
    "add_scrap_reason",
    "complete_batch",
    "hold_batch",
    "plan",
    "ready_batch",
    "record",
    "resume_batch",
    "reverse",
    "start_batch",
]
