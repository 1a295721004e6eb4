"""Travelers: what a batch still has to make, of what, and where its item comes from and goes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from batches.bills.models import Bill, BillLine, LineRole, RevisionState
from batches.bills.selectors.sheets import BillSheet, SheetLine, sheets_by_id
from batches.labels.rules.papers import Traveler, TravelerNeed
from batches.labels.selectors.asked import in_order
from batches.runs.models import BatchState, EntryFactor
from batches.runs.rules import split_by_first_expired
from batches.runs.selectors.batches import batches
from batches.runs.selectors.proposals import lot_offer
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among, AmongCodes
from inventory.stock.selectors.lots import usable_lots
from shopfloor.units import display

LOOK: Final = "Check it, or scan the traveler."
NAMED_MAX: Final = 4
"""Lots of a line, or items of a stage, that a traveler names; it counts the rest."""

FINISHED: Final = frozenset({BatchState.COMPLETE, BatchState.ABORTED})


class _Around(NamedTuple):
    """What stands around batches, for all of them at once."""

    sheets: Mapping[int, BillSheet]
    lots: Mapping[int, Sequence[Lot]]
    hazards: Mapping[int, str]
    makers: Mapping[int, str]
    takers: Mapping[int, Sequence[tuple[str, str]]]
    equipment: Mapping[int, Sequence[str]]


def travelers(codes: Sequence[str], *, at: datetime) -> list[Traveler]:
    """Batches, in the order asked. At most seven statements.

    Lots are proposed for each batch by itself: two travelers may name the same lot, and the bench
    scans what is truly taken.

    Args:
        codes: Of the batches.
        at: When the lots to take first must be usable.

    Raises:
        NotFoundError: naming all codes that no batch has.
    """
    rows = batches().filter(AmongCodes("code", codes))
    found: list[Any] = in_order(
        {batch.code: batch for batch in rows}, codes, noun="batch", look=LOOK
    )
    around = _around(found, at)
    return [_traveler(batch, around) for batch in found]


def _around(found: Sequence[Any], at: datetime) -> _Around:
    sheets = sheets_by_id(batch.revision_id for batch in found if batch.revision_id is not None)
    taken = {line.item.id for each in sheets.values() for line in each.taken}
    made = {batch.item_id for batch in found}
    lots: dict[int, list[Lot]] = defaultdict(list)
    for lot in usable_lots(item_ids=taken, at=at) if taken else ():
        lots[lot.item_id].append(lot)
    return _Around(
        sheets=sheets,
        lots=lots,
        hazards=_hazards(taken | made),
        makers=_makers(taken),
        takers=_takers(made),
        equipment=_equipment(batch.pk for batch in found),
    )


def _hazards(item_ids: Iterable[int]) -> dict[int, str]:
    """Codes of the items that carry hazard data, by id. One statement."""
    items = Item.objects.filter(Among("pk", item_ids)).order_by("code")
    rows = items.exclude(hazard_text="", hazard_pictograms="").values_list("pk", "code")
    return dict(rows)


def _makers(item_ids: set[int]) -> dict[int, str]:
    """The stage that makes each item, by id of the item, first stage first. One statement."""
    if not item_ids:
        return {}
    bills = Bill.objects.filter(Among("item", item_ids), revisions__state=RevisionState.CURRENT)
    return dict(bills.order_by("stage__position").values_list("item_id", "stage__name"))


def _takers(item_ids: set[int]) -> dict[int, list[tuple[str, str]]]:
    """Stage and code of what each item goes into, by id of the item. One statement."""
    lines = BillLine.objects.filter(
        Among("item", item_ids), role=LineRole.TAKEN, revision__state=RevisionState.CURRENT
    )
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    of_bill = "revision__bill__"
    for item_id, stage, code in lines.order_by(
        f"{of_bill}stage__position", f"{of_bill}item__code"
    ).values_list("item_id", f"{of_bill}stage__name", f"{of_bill}item__code"):
        found[item_id].append((stage, code))
    return found


def _equipment(batch_ids: Iterable[int]) -> dict[int, list[str]]:
    """Codes of the equipment that standing entries named, by id of the batch. One statement."""
    factors = EntryFactor.objects.filter(
        Among("entry__batch", batch_ids),
        entry__posting__reversed_by__isnull=True,
        equipment__isnull=False,
    )
    found: dict[int, list[str]] = defaultdict(list)
    rows = factors.order_by("equipment__code").values_list("entry__batch_id", "equipment__code")
    for batch_id, code in rows.distinct():
        found[batch_id].append(code)
    return found


def _traveler(batch: Any, around: _Around) -> Traveler:
    item = batch.item
    is_finished = batch.state in FINISHED
    left_base = 0 if is_finished else max(0, batch.planned_base - batch.good_base)
    sheet = around.sheets.get(batch.revision_id)
    taken = () if sheet is None else sheet.taken
    hazards = {around.hazards.get(each) for each in (item.pk, *(line.item.id for line in taken))}
    return Traveler(
        code=batch.code,
        item=item.code,
        item_name=item.name,
        stage=batch.stage.name,
        state=batch.state,
        planned=_amount(batch.planned_base, item),
        made=_made(batch),
        left=_left(batch, left_base),
        planned_on="" if batch.planned_on is None else batch.planned_on.isoformat(),
        bill="" if batch.revision is None else f"revision {batch.revision.number}",
        note=batch.note,
        comes_from=_by_stage(
            (around.makers[line.item.id], line.item.code)
            for line in taken
            if line.item.id in around.makers
        ),
        goes_to=_by_stage(around.takers.get(item.pk, ())),
        equipment=tuple(around.equipment.get(batch.pk, ())),
        needs=_needs(taken, left_base, around.lots, is_first_entry=batch.entry_count == 0),
        hazards=tuple(sorted(filter(None, hazards))),
    )


def _made(batch: Any) -> str:
    """What standing entries add up to; empty before the first."""
    if not batch.entry_count:
        return ""
    good, scrapped = (_amount(each, batch.item) for each in (batch.good_base, batch.scrapped_base))
    return f"{good} good, {scrapped} scrapped"


def _left(batch: Any, left_base: int) -> str:
    """What is still to make, in words where that is nothing."""
    if batch.state in FINISHED:
        return f"nothing: the batch is {batch.state}"
    return _amount(left_base, batch.item) if left_base else "nothing: all that was planned is made"


def _amount(qty_base: int, item: Item) -> str:
    return display(qty_base, item.display_unit, measure_of(item))


def _by_stage(pairs: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """`Molding: HALF-L, HALF-R`, a text for each stage, in the order they come."""
    found: dict[str, list[str]] = defaultdict(list)
    for stage, code in pairs:
        found[stage].append(code)
    return tuple(f"{stage}: {', '.join(_first(codes))}" for stage, codes in found.items())


def _first(names: Sequence[str]) -> list[str]:
    """As many as a traveler names, and how many more there are."""
    more = len(names) - NAMED_MAX
    return [*names] if more <= 0 else [*names[:NAMED_MAX], f"and {more} more"]


def _needs(
    taken: Sequence[SheetLine],
    left_base: int,
    lots: Mapping[int, Sequence[Lot]],
    *,
    is_first_entry: bool,
) -> tuple[TravelerNeed, ...]:
    """The bill's lines for what is left, scrap not counted, and the lots to take first."""
    if not left_base:
        return ()
    wanted = [(line, line.need_base(left_base, is_first_entry=is_first_entry)) for line in taken]
    # What is taken once a batch was taken with its first entry.
    return tuple(_need(line, wanted_base, lots) for line, wanted_base in wanted if wanted_base)


def _need(line: SheetLine, wanted_base: int, lots: Mapping[int, Sequence[Lot]]) -> TravelerNeed:
    offered = lots.get(line.item.id, ())
    proposal = split_by_first_expired(wanted_base, [lot_offer(lot) for lot in offered])
    codes = {lot.pk: lot.code for lot in offered}

    def shown(qty_base: int) -> str:
        return display(qty_base, line.item.display_unit, line.item.measure)

    first = _first([f"{codes[take.lot_id]} ({shown(take.qty_base)})" for take in proposal.takes])
    short = [f"{shown(proposal.short_base)} short"] if proposal.short_base else []
    return TravelerNeed(
        item=line.item.code,
        item_name=line.item.name,
        amount=shown(wanted_base),
        lots=(*first, *short),
    )
