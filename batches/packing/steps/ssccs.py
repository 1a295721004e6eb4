"""SSCCs: one a box, never given twice."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings

from batches.packing.models import Box, BoxSscc
from batches.packing.steps.locking import lock_boxes
from shopfloor.allocation import next_id
from shopfloor.codes.errors import NoPrefixError
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.stamp import Stamp


def allot(codes: Sequence[str], stamp: Stamp) -> list[Box]:
    """Allot an SSCC to each box that has none; the boxes, each once, in the order asked.

    Raises:
        NoPrefixError: the shop has no company prefix.
        NotFoundError: with the codes that no box has.
        Gs1NumberError: the prefix has no number left.
    """
    if not settings.SHOP_GS1_PREFIX:
        raise NoPrefixError(
            "An SSCC begins with a company prefix that GS1 licenses. Put yours into"
            " SHOP_GS1_PREFIX, or print box labels, which need none."
        )
    prefix = CompanyPrefix(settings.SHOP_GS1_PREFIX)
    boxes = lock_boxes(codes)  # in turns: of two who ask for one box the second sees the first's
    has_one = set(
        BoxSscc.objects.filter(box__in=[box.pk for box in boxes.values()]).values_list(
            "box", flat=True
        )
    )
    asked = [boxes[code] for code in dict.fromkeys(codes)]
    for box in asked:
        if box.pk not in has_one:
            _allot(box, prefix, stamp)
    return asked


def _allot(box: Box, prefix: CompanyPrefix, stamp: Stamp) -> None:
    count = next_id(BoxSscc)
    while BoxSscc.objects.filter(sscc=prefix.sscc_of_count(count)).exists():
        # Of a prefix that begins as another one does, which the shop had before.
        count = max(count + 1, next_id(BoxSscc))
    BoxSscc.objects.create(
        pk=count,
        box=box,
        sscc=prefix.sscc_of_count(count),
        by=stamp.by,
        recorded_at=stamp.now,
    )
