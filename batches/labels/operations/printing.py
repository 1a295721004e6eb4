"""Keeping what was printed."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Max

from batches.labels.models import PrintedPaper, Printing
from batches.labels.rules.stock import PrintJob
from inventory.stock.selectors.among import AmongCodes
from shopfloor.inserted import insert
from shopfloor.operation import operation
from shopfloor.stamp import Stamp
from shopfloor.turns import lock_tables


@operation
def note_printing(
    *, kind: str, codes: Sequence[str], copies: int, job: PrintJob, stamp: Stamp
) -> Printing:
    """Keep that somebody has papers printed, and for each whether it is a reprint.

    At most four statements. The caller has drawn them once: what cannot be printed is not kept.

    Args:
        kind: Name of the kind of paper.
        codes: Of what they are the papers of, each once, in order.
        copies: Of each, >= 1.
        job: On what.
        stamp: Who and when.
    """
    printing = Printing(
        kind=kind,
        stock=job.stock.name,
        dpi=job.dpi,
        start=job.start,
        nudge_x_um=job.nudge_x_um,
        nudge_y_um=job.nudge_y_um,
        has_cut_marks=job.has_cut_marks,
        copies=copies,
        at=stamp.now,
        by=stamp.by,
    )
    insert([printing])
    lock_tables([PrintedPaper], "SHARE ROW EXCLUSIVE")  # of two at once, the second counts on
    before = PrintedPaper.objects.filter(AmongCodes("code", codes), kind=kind)
    counts = dict(before.values_list("code").annotate(Max("number")).order_by())
    insert(
        [
            PrintedPaper(printing=printing, kind=kind, code=code, number=counts.get(code, 0) + 1)
            for code in codes
        ]
    )
    return printing
