"""A recall of 5,000 boxes: begun, and drawn as the paper that somebody reads alone."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from time import perf_counter
from typing import Final

from django.utils import timezone

from batches.labels.pdf import write_papers
from batches.labels.selectors import PAPERS, print_job
from batches.recall.operations import begin_recall
from batches.recall.selectors.asked import Asked
from batches.trace.selectors import Question, downstream
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.bench.figures import Figure

BOXES: Final = 5_000
PDF_SECONDS_MAX: Final = 5.0


def rows() -> Iterator[Figure]:
    """Of as many adhesive lots as it takes, the newest that went into anything first."""
    lots, boxes = _suspects()
    now = timezone.now()
    stamp = Stamp(by=User.objects.order_by("pk")[0], at=now, now=now, reason="A bench")
    began = perf_counter()
    recall = begin_recall(kind="mock", asked=Asked(lots=lots), stamp=stamp)
    yield Figure(f"begin a recall of {boxes:,} boxes, beside 5 s", perf_counter() - began, 5.0, 1)
    began = perf_counter()
    papers = PAPERS["recalls"].papers([recall.code], at=now)
    write_papers(papers, job=print_job("letter", dpi=300), file=BytesIO())
    drawn = perf_counter() - began
    yield Figure(f"the case of {boxes:,} boxes as PDF, beside 5 s", drawn, PDF_SECONDS_MAX, 1)


def _suspects() -> tuple[list[str], int]:
    """Lots, and how many boxes what was made of them is or was in."""
    lots: list[str] = []
    boxes: set[str] = set()
    codes = Lot.objects.filter(item__kind="adhesive", supplier__isnull=False)
    for code in codes.order_by("-pk").values_list("code", flat=True):
        if len(boxes) >= BOXES:
            break
        found = {row.box for row in downstream(Question(lot=code, fold="batches")).boxes}
        if found:
            lots.append(code)
            boxes |= found
    return lots, len(boxes)
