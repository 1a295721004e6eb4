"""What a lot or a batch made, as far as it can be checked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from django.db.models import BigIntegerField, QuerySet, TextField

from batches.quality.errors import CheckElsewhereError, NothingToCheckError
from batches.quality.models import CheckDefinition, CheckKind, HowMany
from batches.runs.models import Batch
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.lineage import is_standing
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Given, Prepared
from shopfloor.units import Dimension

PIECES_MAX: Final = 2**31 - 1
"""The column takes no more: two tons of a mixture in milligrams."""


class Made(NamedTuple):
    """What is judged.

    Attributes:
        lot_ids: The lots as they were made; parts split off are judged with them.
        entry_id: The entry that made all of it; None where several did.
        pieces: Good pieces that were made; of a mixture base units, as many as are kept.
        is_mixture: It is weighed or poured, so samples of it are tested, not pieces.
    """

    batch: Batch
    lot_ids: Sequence[int]
    entry_id: int | None
    pieces: int
    is_mixture: bool


def made_by_lot(code: str) -> Made:
    """What the lot is, or is a part of. Two statements, one more for each split above it.

    Raises:
        NotFoundError: no such lot.
        NothingToCheckError: no entry that stands made it.
    """
    named = _lot_named(code=code)
    if not named:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lot=code)
    lot = named[0]
    while lot.parent is not None:
        lot = lot.parent
    return _made(_outputs_of_lot(lot_id=lot.pk), lot=code)


def made_by_batch(code: str) -> Made:
    """All that a batch's standing entries made of its item. Two statements.

    Raises:
        NotFoundError: no such batch.
        NothingToCheckError: none made anything.
    """
    if not Batch.objects.filter(code=code).exists():
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    return _made(list(_outputs().filter(posting__entry__batch__code=code)), batch=code)


def refuse_elsewhere(definition: CheckDefinition, made: Made) -> None:
    """Refuse a check that is not one of this stage or item.

    Raises:
        CheckElsewhereError: with what it is and what the check is of.
    """
    if made.batch.stage_id == definition.stage_id and definition.item_id in {
        None,
        made.batch.item_id,
    }:
        if made.is_mixture:
            _refuse_counting(definition)
        return
    raise CheckElsewhereError(
        "This check is not made of that. Choose one of its stage and item.",
        check=definition.code,
        check_stage=definition.stage.code,
        check_item=None if definition.item is None else definition.item.code,
        stage=made.batch.stage.code,
        item=made.batch.item.code,
    )


def _refuse_counting(definition: CheckDefinition) -> None:
    """A mixture has no pieces to be counted: samples of it are measured."""
    if definition.kind != CheckKind.MEASURED or definition.how_many != HowMany.FIXED:
        raise CheckElsewhereError(
            "This is a mixture, which has no pieces. Choose a measured check of a fixed number of "
            "samples.",
            check=definition.code,
            kind=definition.kind,
            how_many=definition.how_many,
        )


def _outputs() -> QuerySet[Movement]:
    return Movement.objects.filter(
        is_standing("posting"), qty_base__gt=0, posting__entry__isnull=False
    ).select_related("lot", "posting__entry__batch__stage", "posting__entry__batch__item")


_lot_named = Prepared(
    lambda: Lot.objects.select_related("parent").filter(code=Given("code", TextField()))
)
_outputs_of_lot = Prepared(lambda: _outputs().filter(lot=Given("lot_id", BigIntegerField())))


def _made(outputs: Sequence[Movement], **named: str) -> Made:
    rows = [row for row in outputs if row.lot.item_id == row.posting.entry.batch.item_id]
    if not rows:
        raise NothingToCheckError(
            "No entry that stands made this, so there is nothing to check. Name a lot or a batch "
            "that was made here.",
            **named,
        )
    entries = {row.posting_id for row in rows}
    return Made(
        batch=rows[0].posting.entry.batch,
        lot_ids=sorted({row.lot_id for row in rows}),
        entry_id=entries.pop() if len(entries) == 1 else None,
        pieces=min(sum(row.qty_base for row in rows), PIECES_MAX),
        is_mixture=rows[0].posting.entry.batch.item.dimension != Dimension.COUNT,
    )
