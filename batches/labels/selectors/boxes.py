"""Box and carton labels: what is in a box and in the boxes in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from django.conf import settings

from batches.labels.errors import SsccMissingError
from batches.labels.rules.papers import BoxItem, BoxLabel
from batches.labels.rules.papers_packing import CartonLabel, carton_elements, link_elements
from batches.labels.selectors.asked import in_order, refuse_all
from batches.labels.selectors.origins import Origin, dates_text, origins
from batches.packing.models import Box, Shipment
from batches.packing.selectors import BoxContents, ContentRow, contents_of, ssccs_of
from inventory.stock.selectors.among import Among, AmongCodes

LOOK = "Check it, or scan the label of the box."


def box_labels(codes: Sequence[str]) -> list[BoxLabel]:
    """Boxes with all in them, in the order asked. At most eight statements.

    Raises:
        NotFoundError: naming all codes that no box has.
    """
    boxes = _boxes(codes)
    contents = contents_of(boxes)
    born = _born(contents)
    return [
        BoxLabel(
            code=box.code,
            pieces=sum(row.pieces for row in contents[box.pk].rows),
            items=box_items(contents[box.pk].rows, born),
            elements=link_elements(
                gtin=_one_gtin(contents[box.pk].rows),
                lots=_lots(contents[box.pk].rows),
                prefix=settings.SHOP_GS1_PREFIX,
            ),
        )
        for box in boxes
    ]


def carton_labels(codes: Sequence[str]) -> list[CartonLabel]:
    """Boxes that a carrier moves, in the order asked. At most ten statements.

    Raises:
        NotFoundError: naming all codes that no box has.
        SsccMissingError: naming all boxes without one.
    """
    boxes = _boxes(codes)
    ssccs = ssccs_of(codes)
    refuse_all(
        SsccMissingError,
        [box.code for box in boxes if box.code not in ssccs],
        why="No SSCC is allotted to",
        look="Allot them first (ssccs/), or print box labels, which need none.",
    )
    contents = contents_of(boxes)
    born = _born(contents)
    shipments = _shipments(contents)
    return [
        _carton(
            box.code,
            contents[box.pk].rows,
            sscc=ssccs[box.code],
            born=born,
            shipment=shipments.get(contents[box.pk].shipment_id or 0),
        )
        for box in boxes
    ]


def _boxes(codes: Sequence[str]) -> list[Box]:
    rows = Box.objects.filter(AmongCodes("code", codes))
    return in_order({box.code: box for box in rows}, codes, noun="box", look=LOOK)


def _born(contents: Mapping[int, BoxContents]) -> dict[int, Origin]:
    return origins(row.lot_id for inside in contents.values() for row in inside.rows)


def _shipments(contents: Mapping[int, BoxContents]) -> dict[int, Shipment]:
    """The shipments that boxes left with, by id. One statement; none if all are here."""
    ids = {inside.shipment_id for inside in contents.values() if inside.shipment_id is not None}
    if not ids:
        return {}
    found = Shipment.objects.select_related("customer", "order").filter(Among("pk", ids))
    return {shipment.pk: shipment for shipment in found}


def _carton(
    code: str,
    rows: Sequence[ContentRow],
    *,
    sscc: str,
    born: Mapping[int, Origin],
    shipment: Shipment | None,
) -> CartonLabel:
    pieces = sum(row.pieces for row in rows)
    return CartonLabel(
        code=code,
        elements=carton_elements(
            sscc=sscc,
            gtin=_one_gtin(rows),
            pieces=pieces,
            lots=_lots(rows),
        ),
        ship_to=() if shipment is None else ship_to(shipment),
        order="" if shipment is None or shipment.order is None else shipment.order.code,
        carrier="" if shipment is None else shipment.carrier,
        pieces=pieces,
        items=box_items(rows, born),
    )


def _one_gtin(rows: Sequence[ContentRow]) -> str:
    """The GTIN of all of it; empty: it has none, or several."""
    gtins = {row.gtin for row in rows}
    return gtins.pop() if len(gtins) == 1 else ""


def _lots(rows: Sequence[ContentRow]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row.lot for row in rows))


def ship_to(shipment: Shipment) -> tuple[str, ...]:
    """Name and address of its customer, a line each; the address may be empty."""
    customer = shipment.customer
    lines = (customer.name, *customer.address.splitlines())
    return tuple(line.strip() for line in lines if line.strip())


def box_items(rows: Sequence[ContentRow], born: Mapping[int, Origin]) -> tuple[BoxItem, ...]:
    """Each item once, with its lots, in the order that its first lot has."""
    by_item: dict[str, list[ContentRow]] = {}
    for row in rows:
        by_item.setdefault(row.item, []).append(row)
    return tuple(_box_item(of_item, born) for of_item in by_item.values())


def _box_item(rows: Sequence[ContentRow], born: Mapping[int, Origin]) -> BoxItem:
    first = rows[0]
    return BoxItem(
        title=first.model_name or first.item_name,
        subtitle=first.colorway_name or "",
        item=first.item,
        pieces=sum(row.pieces for row in rows),
        lots=lots_text((row.lot, row.pieces) for row in rows),
        dates=dates_text({born[row.lot_id] for row in rows}),
    )


def lots_text(lots: Iterable[tuple[str, int]]) -> tuple[str, ...]:
    """Codes of lots; each with its pieces where there are several: `("M1.1 (5)", "M2 (10)")`."""
    found = list(lots)
    if len(found) == 1:
        return (found[0][0],)
    return tuple(f"{lot} ({pieces})" for lot, pieces in found)
