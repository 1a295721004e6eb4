"""What the failures of a year have in common, asked in a made-up shop of many years."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from django.db.models import Max
from django.utils import timezone

from batches.packing.models import ShipmentLine
from batches.packing.operations import ComplaintDraft, complain
from batches.trace.selectors import causes
from inventory.stock.models import Posting
from shopfloor.days import day_end, shop_day
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.bench.figures import Figure

DEFECTS: Final = {"LEAK": "gluing", "PEEL": "painting", "EYE-OFF": "rigging"}
SECONDS: Final = 2
MB: Final = 300
TIMES: Final = 3
COMPLAINTS: Final = 40


def rows() -> Iterator[Figure]:
    """Processor time and memory of one answer, beside what they may be; then with complaints."""
    last_on = shop_day(Posting.objects.aggregate(at=Max("at"))["at"])
    first_on = last_on - timedelta(days=365)
    causes(defect="LEAK", first_on=last_on, last_on=last_on)  # libraries are loaded once
    for defect, stage in DEFECTS.items():
        yield from _figures(f"causes of a year of {stage}", defect, first_on, last_on)
    _complain(last_on)
    yield from _figures(
        f"causes of a year of gluing, {COMPLAINTS} complaints", "LEAK", first_on, last_on
    )


def _figures(what: str, defect: str, first_on: date, last_on: date) -> Iterator[Figure]:
    took = []
    for _ in range(TIMES):
        start = time.process_time()
        answer = causes(defect=defect, first_on=first_on, last_on=last_on)
        took.append(time.process_time() - start)
    what = f"{what}: {answer.entries} entries, {answer.looked_at} exposures"
    yield Figure(f"{what}, processor time", min(took), SECONDS, 1)
    tracemalloc.start()
    causes(defect=defect, first_on=first_on, last_on=last_on)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    yield Figure(f"{what}, memory", most / 1e6, MB, 1, "MB")


def _complain(last_on: date) -> None:
    """A leak in each of the newest boxes that had left a month before."""
    until = day_end(last_on - timedelta(days=30))
    lines = ShipmentLine.objects.filter(box__isnull=False, shipment__posting__at__lte=until)
    now = timezone.now()
    stamp = Stamp(by=User.objects.order_by("pk")[0], at=now, now=now, reason="A bench")
    codes = dict.fromkeys(lines.order_by("-pk").values_list("box__code", flat=True)[:1000])
    for code in list(codes)[:COMPLAINTS]:
        draft = ComplaintDraft(defect_code="LEAK", pieces=1, told_on=last_on, box_code=code)
        complain(draft=draft, stamp=stamp)
