"""A recall of 5,000 boxes: begun, and drawn as the paper that somebody reads alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from io import BytesIO
from time import perf_counter, process_time
from typing import Final

from django.utils import timezone

from batches.labels.pdf import write_papers
from batches.labels.selectors import PAPERS, print_job
from batches.recall.operations import begin_recall
from batches.recall.selectors.asked import Asked
from batches.recall.selectors.scope import scope_of
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.bench.figures import Figure

BOXES: Final = 5_000
SECONDS_MAX: Final = 5.0


def rows() -> Iterator[Figure]:
    """Of as many adhesive lots as it takes, the newest that went into anything first."""
    lots, boxes = _suspects()
    now = timezone.now()
    stamp = Stamp(by=User.objects.order_by("pk")[0], at=now, now=now, reason="A bench")
    codes = []

    def begin() -> None:
        codes.append(begin_recall(kind="mock", asked=Asked(lots=lots), stamp=stamp).code)

    def draw() -> None:
        papers = PAPERS["recalls"].papers(codes, at=now)
        write_papers(papers, job=print_job("letter", dpi=300), file=BytesIO())

    yield from _figures(f"begin a recall of {boxes:,} boxes", begin)
    yield from _figures(f"the case of {boxes:,} boxes as PDF", draw)


def _figures(what: str, work: Callable[[], None]) -> Iterator[Figure]:
    """By the clock, and of the processor: other programs may be busy beside it."""
    clock, processor = perf_counter(), process_time()
    work()
    yield Figure(f"{what}, beside 5 s", perf_counter() - clock, SECONDS_MAX, 1)
    yield Figure(f"{what}, processor time", process_time() - processor, SECONDS_MAX, 1)


def _suspects() -> tuple[list[str], int]:
    """Lots, and how many boxes what was made of them is or was in."""
    lots: list[str] = []
    boxes: set[str] = set()
    used = Lot.objects.filter(item__kind="adhesive", supplier__isnull=False)
    for lot_id, code in used.order_by("-pk").values_list("pk", "code"):
        if len(boxes) >= BOXES:
            break
        if found := scope_of([lot_id]).boxes:
            lots.append(code)
            boxes |= found
    return lots, len(boxes)
