"""What the failures of a year have in common, asked in a made-up shop of many years."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from django.db.models import Max

from batches.trace.selectors import causes
from inventory.stock.models import Posting
from shopfloor.days import shop_day
from tests.bench.figures import Figure

DEFECTS: Final = {"LEAK": "gluing", "PEEL": "painting", "EYE-OFF": "rigging"}
SECONDS: Final = 2
MB: Final = 300
TIMES: Final = 3


def rows() -> Iterator[Figure]:
    """Processor time and memory of one answer, beside what they may be."""
    last_on = shop_day(Posting.objects.aggregate(at=Max("at"))["at"])
    first_on = last_on - timedelta(days=365)
    causes(defect="LEAK", first_on=last_on, last_on=last_on)  # libraries are loaded once
    for defect, stage in DEFECTS.items():
        took = []
        for _ in range(TIMES):
            start = time.process_time()
            answer = causes(defect=defect, first_on=first_on, last_on=last_on)
            took.append(time.process_time() - start)
        what = (
            f"causes of a year of {stage}: {answer.entries} entries, {answer.looked_at} exposures"
        )
        yield Figure(f"{what}, processor time", min(took), SECONDS, 1)
        tracemalloc.start()
        causes(defect=defect, first_on=first_on, last_on=last_on)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        yield Figure(f"{what}, memory", most / 1e6, MB, 1, "MB")
