"""What customers complain of."""

from __future__ import annotations

from batches.packing.models import Complaint
from batches.packing.steps.complaining import ComplaintDraft, add_complaint
from shopfloor import afterwards
from shopfloor.operation import operation
from shopfloor.stamp import Stamp

__all__ = ["ComplaintDraft", "complain"]


@operation
def complain(*, draft: ComplaintDraft, stamp: Stamp) -> Complaint:
    """Write down that pieces which left have a defect.

    Args:
        draft: What was told.
        stamp: Who wrote it down, when.

    Raises:
        NotFoundError: something named does not exist.
        InvalidInputError: not one of box, lot, item and model; or days with the wrong of them.
        DateImpossibleError: a day in the future, or days out of order.
        NeverShippedError: nothing of it had left by then; the facts say where it is.
        WentToOthersError: none of it went to the customer named.
        ComplaintTooLargeError: more pieces would have the defect than left.
        ComplaintReplacedError: what it replaces was replaced before.
    """
    recorded = add_complaint(draft, stamp)
    afterwards.tell(afterwards.COMPLAINED, recorded.defect_id)
    return recorded
