"""Where a trace begins: the lots of a code on a label."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from batches.packing.models import Box, ShipmentLine
from batches.packing.selectors.boxes import inside_box
from batches.runs.models import Batch
from batches.trace.errors import NothingToTraceError
from batches.trace.rules.flows import flows_of
from batches.trace.selectors.rows import StartRow
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.lineage import Side, came_to_be, is_standing
from shopfloor.codes.alphabet import Prefix, decode, noun
from shopfloor.errors import NotFoundError

# What may follow the code of a lot: the number of a posting's second lot, those of parts of a lot.
_LOT_CODE = re.compile(r"(L-[^-.]+)(-[0-9]+)?(\.[0-9]+)*")

NEVER_WAS = "The posting that made this lot was reversed: it never was, so nothing flows in or out."


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
    """A lot. One statement.

    Raises:
        NotFoundError: no such lot.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
    """
    lots = Lot.objects.filter(code=code).annotate(is_there=came_to_be())
    found = lots.values_list("pk", "is_there").first()
    if found is None:
        raise _unknown(code, Prefix.LOT)
    lot_id, is_there = found
    note = "" if is_there else NEVER_WAS
    return Start(StartRow("lot", code, [code], not is_there, note), {lot_id: 0})


def start_of_batch(code: str, *, upstream: bool) -> Start:
    """The lots that the standing entries of a batch made. One statement.

    Upstream, what an entry took that made nothing stands one flow away, as if something were made.

    Raises:
        NotFoundError: no such batch.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
        NothingToTraceError: it has no entry that stands.
    """
    rows = _entry_rows(code)
    flows = flows_of(sorted(Side(*row) for *row, _ in rows))
    if not flows and not Batch.objects.filter(code=code).exists():
        raise _unknown(code, Prefix.BATCH)
    if not flows:
        raise NothingToTraceError(
            "Nothing is recorded for this batch, or all of it was reversed. Record an entry first.",
            batch=code,
        )
    made = {lot_id for flow in flows for lot_id in flow.made}
    barren = [flow for flow in flows if not flow.made] if upstream else []
    note = "" if made else "Nothing good came of this batch: all of it was scrapped."
    codes = dict(sorted((lot_id, lot_code) for _, lot_id, _, lot_code in rows if lot_id in made))
    return Start(
        StartRow("batch", code, list(codes.values()), is_undone=False, note=note),
        {lot_id: 1 for flow in barren for lot_id in flow.taken} | dict.fromkeys(made, 0),
        [flow.posting_id for flow in barren],
    )


def _entry_rows(batch: str) -> list[tuple[int, int, int, str]]:
    """What the standing entries took and made: posting, lot, amount, the lot's code."""
    sides = Movement.objects.filter(is_standing("posting_id"), posting__entry__batch__code=batch)
    rows = sides.exclude(qty_base=0).order_by()
    return list(rows.values_list("posting_id", "lot_id", "qty_base", "lot__code"))


def start_of_box(code: str) -> Start:
    """The lots in a box and in the boxes in it, or that left in them. One statement.

    Raises:
        NotFoundError: no such box.
        CodeTypoError, WrongKindOfCodeError: a slip, or the code of something else.
        NothingToTraceError: it is empty.
    """
    inside = inside_box(code)
    # A shipped lot keeps its place; one that came back stands elsewhere, but left in the box.
    shipped = ShipmentLine.objects.filter(is_standing("shipment_id"), box__in=inside)
    lots = Lot.objects.annotate(is_there=came_to_be()).filter(is_there=True).order_by()
    found = [
        each.values_list("pk", "code")
        for each in (
            lots.filter(place__box__in=inside),
            lots.filter(pk__in=shipped.order_by().values("lot_id")),
        )
    ]
    codes = dict(sorted(found[0].union(found[1])))
    if not codes and not Box.objects.filter(code=code).exists():
        raise _unknown(code, Prefix.BOX)
    if not codes:
        raise NothingToTraceError(
            "The box is empty: nothing was put in, or all of it was taken out.", box=code
        )
    row = StartRow("box", code, list(codes.values()), is_undone=False, note="")
    return Start(row, dict.fromkeys(codes, 0))


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
