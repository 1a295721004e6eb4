"""What is done in a recall."""

from __future__ import annotations

from batches.recall import steps
from batches.recall.models import Recall
from batches.recall.selectors.asked import Asked
from batches.recall.steps import NoteDraft
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def begin_recall(*, kind: str, asked: Asked, stamp: Stamp) -> Recall:
    """Begin a case; see `steps.begin` for what it refuses. A real one holds everything at risk."""
    return steps.begin(kind, asked, stamp)


@operation
def note_in_recall(*, recall_code: str, draft: NoteDraft, stamp: Stamp) -> Recall:
    """Write down what was done or heard; see `steps.note` for what it refuses."""
    return steps.note(recall_code, draft, stamp)


@operation
def close_recall(*, recall_code: str, stamp: Stamp) -> Recall:
    """Close a case; see `steps.close` for what it refuses."""
    return steps.close(recall_code, stamp)
