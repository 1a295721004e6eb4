"""What a packer asks GS1's numbers for."""

from __future__ import annotations

from collections.abc import Sequence

from batches.packing.models import Box
from batches.packing.steps import ssccs
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def allot_ssccs(*, box_codes: Sequence[str], stamp: Stamp) -> list[Box]:
    """Give each box an SSCC; one that has one keeps it.

    Raises:
        NoPrefixError: the shop has no company prefix.
        NotFoundError: with the codes that no box has.
        Gs1NumberError: the prefix has no number left.
    """
    return ssccs.allot(box_codes, stamp)
