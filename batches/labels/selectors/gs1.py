"""What a scan with GS1 data leads to: our box, our lot, a supplier's lot, an item."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from batches.labels.errors import ScanAmbiguousError, ScanContradictsError
from batches.labels.selectors.targets import ScanTarget, delivery, target
from batches.packing.models import BoxSscc
from batches.runs.models import Batch
from inventory.catalog.models import Item
from inventory.purchasing.selectors import Labeled, labeled, refuse_glued, said_by
from inventory.stock.models import Lot
from shopfloor.codes.alphabet import Prefix
from shopfloor.codes.gs1.elements import FNC1
from shopfloor.codes.gs1.words import ReadElement, read_words
from shopfloor.codes.scan import SEPARATOR_SIGN, Scan, read_scan
from shopfloor.errors import NotFoundError, ShopError

# Lots of one supplier's code; more than a few cannot be told apart anyway.
LOTS_MAX = 20


@dataclass(frozen=True, slots=True)
class _Asked:
    """One scan with what it says."""

    scan: Scan
    label: Labeled
    read: tuple[ReadElement, ...]

    @property
    def sent(self) -> str:
        """As a receipt takes it."""
        sign = f"]{self.scan.symbology}" if self.scan.symbology else ""
        return sign + self.scan.text.replace(FNC1, SEPARATOR_SIGN)

    def found(self, what: ScanTarget, *, is_ours: bool = False) -> ScanTarget:
        """What it leads to; what is ours already is not proposed to be received."""
        proposed = None if is_ours else delivery(self.label, scan=self.sent)
        return replace(what, read=self.read, delivery=proposed)

    def nothing(self, detail: str) -> NotFoundError:
        """Nothing here has it."""
        return NotFoundError(
            detail,
            text=self.scan.text.replace(FNC1, SEPARATOR_SIGN),
            symbology=self.scan.symbology,
            read=[row._asdict() for row in self.read],
        )


def gs1_target(scan: Scan, *, on: date) -> ScanTarget:
    """What GS1 data lead to. At most seven statements.

    Args:
        scan: With `elements`.
        on: Today, for the century of days.

    Raises:
        NotFoundError: nothing here has it; the facts say what was read.
        TwoCodesError: a code of something here stands behind a supplier's lot.
        ScanAmbiguousError: several lots have this code of their supplier.
        ScanContradictsError: a lot of ours, but of another item than the GTIN's.
    """
    assert scan.elements is not None
    said = said_by(scan, on=on)
    assert said is not None
    [label] = labeled([said], supplier=None)
    asked = _Asked(scan, label, tuple(read_words(scan.elements, reference_year=on.year)))
    if said.sscc and (code := box_code(said.sscc)) is not None:
        return asked.found(target("box", "boxes", code), is_ours=True)
    if said.lot_code:
        return _of_lot(asked, said.lot_code)
    if label.item is not None:
        return asked.found(_item(label.item))
    raise asked.nothing(_missing(label))


def box_code(sscc: str) -> str | None:
    """The code of the box that has an SSCC; None: no box of ours. One statement."""
    return BoxSscc.objects.filter(sscc=sscc).values_list("box__code", flat=True).first()


def _of_lot(asked: _Asked, lot_code: str) -> ScanTarget:
    ours = Lot.objects.select_related("item").filter(code=lot_code.upper()).first()
    gtin = asked.label.said.gtin
    if ours is not None and (gtin is None or ours.item.gtin == gtin):
        return asked.found(_lot(ours), is_ours=True)
    if ours is not None and _is_made_here(lot_code):
        raise ScanContradictsError(
            f"{ours.code} is a lot of {ours.item.code}, and the GTIN on this label is not that "
            "item's. Look which is right, and print the label again.",
            lot=ours.code,
            item=ours.item.code,
            gtin=gtin,
        )
    if gtin is None and (batch := Batch.objects.filter(code=lot_code.upper()).first()):
        return asked.found(target("batch", "batches", batch.code), is_ours=True)
    item = asked.label.item
    if item is None and (gtin is not None or asked.label.said.our_item_code):
        raise asked.nothing(_missing(asked.label))
    if (lot := _received(lot_code, item)) is not None:
        meaning = f"This is lot {lot.code} of {lot.item.code}, its supplier's {lot_code}."
        if not lot.on_hand_base:
            meaning += " Nothing of it is left."
        return asked.found(replace(_lot(lot), meaning=meaning))
    refuse_glued([lot_code])
    if item is None:
        raise asked.nothing(
            f"No lot here is {lot_code}, and the label names no item. Receive it and say which."
        )
    meaning = f"Lot {lot_code} of {item.code}, a supplier's, is not received yet: receive it."
    return asked.found(replace(_item(item), meaning=meaning))


def _received(lot_code: str, item: Item | None) -> Lot | None:
    """The one lot with a supplier's code: as it is written before capitals, on hand before empty.

    Raises:
        ScanAmbiguousError: several.
    """
    lots = Lot.objects.select_related("item").filter(
        supplier_lot_code__iexact=lot_code, parent__isnull=True
    )
    lots = lots.filter(on_hand_base__gt=0) if item is None else lots.filter(item=item)
    found = list(lots.order_by("pk")[:LOTS_MAX])
    for best in (
        [lot for lot in found if lot.supplier_lot_code == lot_code and lot.on_hand_base],
        [lot for lot in found if lot.on_hand_base],
        found,
    ):
        if len(best) > 1:
            raise several([lot.code for lot in best], text=lot_code)
        if best:
            return best[0]
    return None


def several(codes: list[str], *, text: str) -> ScanAmbiguousError:
    """The refusal of a supplier's code that several lots have."""
    return ScanAmbiguousError(
        "Several lots have this code of their supplier. Scan the sticker of the one meant.",
        text=text,
        lots=codes,
    )


def _is_made_here(lot_code: str) -> bool:
    """Whether it is a code that this service makes; one that the shop gave may be anybody's."""
    try:
        return read_scan(lot_code).kind is Prefix.LOT
    except ShopError:
        return False


def _lot(lot: Lot) -> ScanTarget:
    return target("lot", "lots", lot.code, f"This is lot {lot.code} of {lot.item.code}.")


def _item(item: Item) -> ScanTarget:
    return target("item", "items", item.code, f"This is item {item.code}, by its GTIN.")


def _missing(label: Labeled) -> str:
    said = label.said
    if said.gtin and len({offer.item_id for offer in label.offers}) > 1:
        return f"Several items are offered under the GTIN {said.gtin}. Enter it at the right one."
    if said.gtin:
        return (
            f"No item here has the GTIN {said.gtin}. Add it to the item, or to the supplier's "
            "offer as its number of it."
        )
    if said.sscc:
        return f"No box here has the SSCC {said.sscc}. Scan what is on the boxes in it."
    return "Nothing on this label names a box, a lot or an item of ours. Scan another symbol of it."
