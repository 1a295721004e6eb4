"""Where a trace begins: the lots of a code on a label."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from batches.packing.models import Box, ShipmentLine
from batches.packing.selectors.boxes import boxes_inside
from batches.runs.models import Batch, Entry
from batches.trace.errors import NothingToTraceError
from batches.trace.rules.flows import Flow, flows_of
from batches.trace.selectors.rows import StartRow
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Side, is_standing, standing_ids
from shopfloor.codes.alphabet import Prefix, decode, noun
from shopfloor.errors import NotFoundError

# What may follow the code of a lot: the number of a posting's second lot, those of parts of a lot.
_LOT_CODE = re.compile(r"(L-[^-.]+)(-[0-9]+)?(\.[0-9]+)*")


@dataclass(frozen=True, slots=True)
class Start:
    """Where a trace begins.

    Attributes:
        row: As the answer shows it.
        depth_of: Lots to begin with, by id, with their depth.
        also: Postings whose lots are in the answer whatever the lots say: those of a batch that
            made nothing.
    """

    row: StartRow
    depth_of: Mapping[int, int]
    also: Sequence[int] = field(default=())


def start_of_lot(code: str) -> Start:
    """A lot. Two statements.

    Raises:
        NotFoundError: no such lot.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
    """
    lot_id = Lot.objects.filter(code=code).values_list("pk", flat=True).first()
    if lot_id is None:
        raise _unknown(code, Prefix.LOT)
    is_undone = not standing_ids([lot_id])
    note = (
        "The posting that made this lot was reversed: it never was, so nothing flows in or out."
        if is_undone
        else ""
    )
    return Start(StartRow("lot", code, [code], is_undone, note), {lot_id: 0})


def start_of_batch(code: str, *, upstream: bool) -> Start:
    """The lots that the standing entries of a batch made. Four statements.

    Upstream, what an entry took that made nothing stands one flow away, as if something were made.

    Raises:
        NotFoundError: no such batch.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
        NothingToTraceError: it has no entry that stands.
    """
    batch_id = Batch.objects.filter(code=code).values_list("pk", flat=True).first()
    if batch_id is None:
        raise _unknown(code, Prefix.BATCH)
    flows = _entry_flows(batch_id)
    if not flows:
        raise NothingToTraceError(
            "Nothing is recorded for this batch, or all of it was reversed. Record an entry first.",
            batch=code,
        )
    made = {lot_id for flow in flows for lot_id in flow.made}
    barren = [flow for flow in flows if not flow.made] if upstream else []
    note = "" if made else "Nothing good came of this batch: all of it was scrapped."
    codes = Lot.objects.filter(Among("pk", made)).order_by("pk").values_list("code", flat=True)
    return Start(
        StartRow("batch", code, list(codes), is_undone=False, note=note),
        {lot_id: 1 for flow in barren for lot_id in flow.taken} | dict.fromkeys(made, 0),
        [flow.posting_id for flow in barren],
    )


def _entry_flows(batch_id: int) -> list[Flow]:
    standing = Entry.objects.filter(is_standing("posting"), batch=batch_id)
    postings = list(standing.values_list("pk", flat=True))
    sides = Movement.objects.filter(Among("posting_id", postings)).exclude(qty_base=0).order_by()
    rows = sides.values_list("posting_id", "lot_id", "qty_base")
    return flows_of(sorted(Side(*row) for row in rows))


def start_of_box(code: str) -> Start:
    """The lots in a box and in the boxes in it, or that left in them. Five statements.

    Raises:
        NotFoundError: no such box.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
        NothingToTraceError: it is empty.
    """
    box_id = Box.objects.filter(code=code).values_list("pk", flat=True).first()
    if box_id is None:
        raise _unknown(code, Prefix.BOX)
    inside = boxes_inside([box_id])[box_id]
    # A shipped lot keeps its place; one that came back stands elsewhere, but left in the box.
    placed = Lot.objects.filter(place__box__in=inside)
    shipped = ShipmentLine.objects.filter(is_standing("shipment_id"), box__in=inside)
    codes = dict(placed.values_list("pk", "code")) | dict(
        shipped.values_list("lot_id", "lot__code")
    )
    ids = sorted(standing_ids(codes))
    if not ids:
        raise NothingToTraceError(
            "The box is empty: nothing was put in, or all of it was taken out.", box=code
        )
    lots = [codes[lot_id] for lot_id in ids]
    return Start(StartRow("box", code, lots, is_undone=False, note=""), dict.fromkeys(ids, 0))


def _unknown(code: str, prefix: Prefix) -> NotFoundError:
    """What to say of a code that nothing has; raises where the code itself says more.

    Raises:
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
    """
    of_lot = _LOT_CODE.fullmatch(code)
    if code[:1] in set(Prefix) and code[1:2] == "-":
        decode(of_lot[1] if of_lot else code, prefix)
    return NotFoundError(
        f"No {noun(prefix)} has this code. Check it, or scan the label.", **{noun(prefix): code}
    )
