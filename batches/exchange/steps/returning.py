"""What customers sent back in the past."""

from __future__ import annotations

from collections.abc import Sequence

from batches.exchange.rules.reading import Row
from batches.exchange.selectors.made import lines_left, lot_ids_of
from batches.exchange.steps.rowing import Importing, refusals_of
from batches.packing.errors import NotShippedError
from batches.packing.models import ShipmentLine
from batches.packing.selectors import newest_complaint, returned_sums
from batches.packing.steps.boxes import place_outside_boxes
from batches.packing.steps.returning import Back, take_back
from inventory.stock.models import OutsideKind, PostingKind
from inventory.stock.steps import lock_lots, post, take
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError, NotFoundError


def post_return(rows: Sequence[Row], importing: Importing) -> None:
    """Pieces that came back, and were thrown away if the row says so."""
    (row,) = rows
    stamp = importing.stamp(row["at"], row["reason"] or "")
    with refusals_of(row):
        lines = _lines(row)
        backs = _backs(lines, row["pieces"])
        take_back(
            shipment=lines[0].shipment,
            backs=backs,
            place=place_outside_boxes(row["place"]),
            stamp=stamp,
            complaint_code=_complaint(row, lines) if row["defect"] else "",
        )
        if row["disposed"]:
            lots = lock_lots([back.lot_code for back in backs])
            post(
                kind=PostingKind.DISPOSED,
                stamp=stamp,
                changes=[take(lots[back.lot_code], back.pieces) for back in backs],
                outside_kind=OutsideKind.LOSS,
            )


def _lines(row: Row) -> list[ShipmentLine]:
    """By which they left: of one shipment, and of one lot if the row names none."""
    lot_ids = None if row["lot"] is None else lot_ids_of(row["lot"])
    lines = lines_left(by=row["at"], box_code=row["box"] or "", lot_ids=lot_ids)
    if not lines:
        raise NotShippedError("Nothing left so until then.", at=row["at"].isoformat())
    if len({line.shipment_id for line in lines}) > 1 or (lot_ids is None and len(lines) > 1):
        raise InvalidInputError(
            "Several lots left so. Name both the box and the lot.",
            lots=[line.lot.code for line in lines],
        )
    return lines


def _backs(lines: Sequence[ShipmentLine], pieces: int) -> list[Back]:
    """The pieces over the lots, first come first; of the last one as many as are left to say."""
    returned = returned_sums({line.shipment_id for line in lines})
    backs = []
    for line in lines[:-1]:
        out = line.qty_base - returned.get((line.shipment_id, line.lot_id), (0, 0))[0]
        if part := min(out, pieces):
            backs.append(Back(line.lot.code, part))
            pieces -= part
    return [*backs, Back(lines[-1].lot.code, pieces)] if pieces else backs


def _complaint(row: Row, lines: Sequence[ShipmentLine]) -> str:
    """Code of what they came back for."""
    found = newest_complaint(
        defect_code=row["defect"],
        lot_ids={line.lot_id for line in lines},
        by=shop_day(row["at"]),
    )
    if found is None:
        raise NotFoundError(
            "Nobody complained of that until then. Leave the defect out, or add the complaint.",
            defect=row["defect"],
            lots=[line.lot.code for line in lines],
        )
    return found
