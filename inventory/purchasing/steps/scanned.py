"""Lines of a delivery whose label was scanned: what it says is filled in. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from inventory.catalog.models import Item, Supplier
from inventory.catalog.selectors import items_by_code, positive_base
from inventory.purchasing.errors import (
    LabelAmountMissingError,
    LabelDiffersError,
    LabelEmptyError,
    LabelItemUnknownError,
)
from inventory.purchasing.rules import is_about
from inventory.purchasing.selectors import Labeled, labeled, refuse_glued, said_by
from shopfloor.codes.gs1.deliveries import Delivered
from shopfloor.codes.scan import read_scan
from shopfloor.fields import Amount
from shopfloor.units import UNITS, in_words

if TYPE_CHECKING:
    from inventory.purchasing.steps.receipts import ReceiptLineDraft


class _Difference(NamedTuple):
    field: str
    typed: str
    label: str


def filled(
    lines: Sequence[ReceiptLineDraft], *, supplier: Supplier, on: date
) -> list[ReceiptLineDraft]:
    """The lines with what their labels say. At most four statements, none without scans.

    Args:
        lines: As typed.
        supplier: Who delivered.
        on: The day it came, for the century of days.

    Raises:
        LabelEmptyError, LabelItemUnknownError, LabelAmountMissingError, LabelDiffersError: as
            named; the facts say the line.
        InvalidInputError: a scan with a fault; see `read_scan`, `refuse_glued`.
        NotFoundError: an item that was typed.
    """
    scanned = [number for number, line in enumerate(lines) if line.scan]
    if not scanned:
        return list(lines)
    said = [_said(lines[number].scan, number + 1, on=on) for number in scanned]
    refuse_glued(each.lot_code for each in said if each.lot_code)
    typed = items_by_code(lines[number].item_code for number in scanned if lines[number].item_code)
    found = list(lines)
    for number, label in zip(scanned, labeled(said, supplier=supplier), strict=True):
        line = lines[number]
        item = typed.get(line.item_code) if line.item_code else label.item
        found[number] = _filled(line, label, item, number + 1)
    return found


def _said(scan: str, number: int, *, on: date) -> Delivered:
    said = said_by(read_scan(scan), on=on)
    if said is None:
        raise LabelEmptyError(
            "The scan is no GS1 label of a supplier. Leave it out, and type what the label says.",
            line=number,
            scan=scan[:90],
        )
    return said


def _filled(
    line: ReceiptLineDraft, label: Labeled, item: Item | None, number: int
) -> ReceiptLineDraft:
    if item is None:
        raise LabelItemUnknownError(
            "No item here has the GTIN of this label, or several are offered under it. Name the "
            "item of this line; add the GTIN to it, or to the supplier's offer as its number.",
            line=number,
            gtin=label.said.gtin,
        )
    amount = label.amount_of(item)
    if line.amount is None and amount is None:
        raise LabelAmountMissingError(
            f"The label does not say how much {item.code} came. Say it.",
            line=number,
            item=item.code,
        )
    differences = list(_differences(line, label, item, amount))
    if differences:
        words = "; ".join(
            f"{field}: {typed}, on the label {said}" for field, typed, said in differences
        )
        raise LabelDiffersError(
            f"What was typed is not what the label says. {words}. Correct it, or leave the scan "
            "out if the label is wrong.",
            line=number,
            differences=[difference._asdict() for difference in differences],
        )
    return replace(
        line,
        item_code=item.code,
        amount=line.amount or amount,
        supplier_lot_code=label.said.lot_code or line.supplier_lot_code,
        expires_on=line.expires_on or label.expires_on,
    )


def _differences(
    line: ReceiptLineDraft, label: Labeled, item: Item, amount: Amount | None
) -> Iterator[_Difference]:
    said = label.said
    if label.item is not None and label.item.pk != item.pk:
        yield _Difference("item", item.code, label.item.code)
    elif label.item is None and said.gtin and item.gtin:
        yield _Difference("gtin", item.gtin, said.gtin)
    if line.amount and amount and not _agree(line.amount, amount, item):
        yield _Difference("amount", _text(line.amount), _text(amount))
    lot_code = line.supplier_lot_code.strip()
    if lot_code and said.lot_code and lot_code.casefold() != said.lot_code.casefold():
        yield _Difference("supplier_lot_code", lot_code, said.lot_code)
    # A day that is only best before may be typed otherwise.
    if line.expires_on and said.expiry_on and line.expires_on != said.expiry_on:
        yield _Difference("expires_on", line.expires_on.isoformat(), said.expiry_on.isoformat())


def _agree(typed: Amount, on_label: Amount, item: Item) -> bool:
    """Whether the label, with the places it has, would show what was typed."""
    exponent = on_label.amount.as_tuple().exponent
    assert isinstance(exponent, int), "an amount is finite"
    place = UNITS[on_label.unit].factor * Fraction(10) ** exponent
    return is_about(
        positive_base(item, typed),
        labeled_base=positive_base(item, on_label),
        step_base=max(int(place), 1),
    )


def _text(amount: Amount) -> str:
    return in_words(amount.amount, amount.unit)
