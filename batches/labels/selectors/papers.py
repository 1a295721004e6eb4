"""What each paper says. Texts are ready to be drawn; days are the shop's, in ISO form."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final

from django.conf import settings

from batches.bills.selectors.sheets import SheetLine, sheet
from batches.labels.rules.geometry import lot_stock
from batches.labels.rules.papers import (
    BoxItem,
    BoxLabel,
    Letterhead,
    LotLabel,
    Traveler,
    TravelerNeed,
)
from batches.labels.selectors.origins import Origin, dates_text, origins
from batches.packing.selectors import ContentRow, box_named, contents_of
from batches.runs.models import Batch
from batches.runs.rules import LotOffer, split_by_first_expired
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Lot
from inventory.stock.selectors.lots import usable_lots, usable_until
from shopfloor.days import day_end, shop_day, shop_zone
from shopfloor.errors import NotFoundError
from shopfloor.units import display

LOTS_PROPOSED_MAX: Final = 4


def letterhead(dpi: int) -> Letterhead:
    """What stands on every paper."""
    return Letterhead(shop_name=settings.SHOP_NAME, is_demo=settings.SHOP_IS_DEMO, dpi=dpi)


def box_label(code: str, *, stock: str, dpi: int) -> BoxLabel:
    """A box with all in it, also in the boxes in it. At most eight statements.

    Raises:
        NotFoundError: no box has that code.
    """
    box = box_named(code)
    contents = contents_of([box])[box.pk].rows
    born = origins(row.lot_id for row in contents)
    by_item: dict[str, list[ContentRow]] = {}
    for row in contents:
        by_item.setdefault(row.item, []).append(row)
    return BoxLabel(
        head=letterhead(dpi),
        stock=stock,
        code=box.code,
        pieces=sum(row.pieces for row in contents),
        items=tuple(_box_item(rows, born) for rows in by_item.values()),
    )


def _box_item(rows: Sequence[ContentRow], born: dict[int, Origin]) -> BoxItem:
    first = rows[0]
    is_one = len(rows) == 1
    return BoxItem(
        title=first.model_name or first.item_name,
        subtitle=first.colorway_name or "",
        item=first.item,
        pieces=sum(row.pieces for row in rows),
        lots=tuple(row.lot if is_one else f"{row.lot} ({row.pieces})" for row in rows),
        dates=dates_text({born[row.lot_id] for row in rows}),
    )


def lot_label(code: str, *, stock: str | None, dpi: int) -> LotLabel:
    """A lot. Four statements.

    Raises:
        NotFoundError: no lot has that code.
    """
    lot = Lot.objects.select_related("item").filter(code=code).first()
    if lot is None:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lot=code)
    born = origins([lot.pk])[lot.pk]
    item = lot.item
    pictograms = tuple(filter(None, item.hazard_pictograms.split(",")))
    has_hazard = bool(item.hazard_text or pictograms)
    return LotLabel(
        head=letterhead(dpi),
        stock=stock or lot_stock(has_hazard=has_hazard),
        code=lot.code,
        item=item.code,
        item_name=item.name,
        dates=(born.word, born.on.isoformat()),
        use_by=_until(usable_until(lot)),
        supplier_lot=lot.supplier_lot_code,
        hazard_text=item.hazard_text,
        pictograms=pictograms,
    )


def _until(moment: datetime | None) -> str:
    """The last day, or day and time where it ends within a day, as pot life does."""
    if moment is None:
        return ""
    day = shop_day(moment)
    if moment == day_end(day):
        return day.isoformat()
    return moment.astimezone(shop_zone()).strftime("%Y-%m-%d %H:%M")


def traveler(code: str, *, stock: str, dpi: int, at: datetime) -> Traveler:
    """A batch, with what its bill takes for the pieces planned. At most four statements.

    Args:
        code: Of the batch.
        stock: Name of the sheet.
        dpi: Of the printer.
        at: When the lots to take first must be usable.

    Raises:
        NotFoundError: no batch has that code.
    """
    related = ("item", "stage", "revision")
    batch = Batch.objects.select_related(*related).filter(code=code).first()
    if batch is None:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    item = batch.item
    taken = () if batch.revision_id is None else sheet(batch.revision_id).taken
    return Traveler(
        head=letterhead(dpi),
        stock=stock,
        code=batch.code,
        item=item.code,
        item_name=item.name,
        stage=batch.stage.name,
        planned=_amount(batch.planned_base, item),
        planned_on="" if batch.planned_on is None else batch.planned_on.isoformat(),
        bill="" if batch.revision is None else f"revision {batch.revision.number}",
        note=batch.note,
        needs=_needs(taken, batch.planned_base, at),
        hazards=_hazards([item.pk, *(line.item.id for line in taken)]),
    )


def _amount(qty_base: int, item: Item) -> str:
    return display(qty_base, item.display_unit, measure_of(item))


def _needs(taken: Sequence[SheetLine], planned_base: int, at: datetime) -> tuple[TravelerNeed, ...]:
    """The bill's lines for the pieces planned, scrap not counted, and the lots to take first."""
    lots: dict[int, list[Lot]] = {}
    for lot in usable_lots(item_ids=[line.item.id for line in taken], at=at) if taken else ():
        lots.setdefault(lot.item_id, []).append(lot)
    return tuple(_need(line, planned_base, lots.get(line.item.id, [])) for line in taken)


def _hazards(item_ids: Iterable[int]) -> tuple[str, ...]:
    """Codes of the items that carry hazard data."""
    items = Item.objects.filter(pk__in=list(item_ids)).order_by("code")
    return tuple(items.exclude(hazard_text="", hazard_pictograms="").values_list("code", flat=True))


def _need(line: SheetLine, pieces: int, lots: Sequence[Lot]) -> TravelerNeed:
    wanted = line.need_base(pieces, is_first_entry=True)
    offers = [
        LotOffer(
            lot_id=lot.pk,
            available_base=lot.on_hand_base,
            usable_until=usable_until(lot),
            born_at=lot.born_at,
        )
        for lot in lots
    ]
    proposal = split_by_first_expired(wanted, offers)
    codes = {lot.pk: lot.code for lot in lots}
    named = [codes[take.lot_id] for take in proposal.takes]
    shown = [*named[:LOTS_PROPOSED_MAX]]
    if len(named) > LOTS_PROPOSED_MAX:
        shown.append(f"and {len(named) - LOTS_PROPOSED_MAX} more")
    if proposal.short_base:
        missing = display(proposal.short_base, line.item.display_unit, line.item.measure)
        shown.append(f"{missing} short")
    return TravelerNeed(
        item=line.item.code,
        item_name=line.item.name,
        amount=display(wanted, line.item.display_unit, line.item.measure),
        lots=tuple(shown),
    )
