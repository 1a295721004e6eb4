"""Looking up, in one statement, what an entry names by code: equipment, scrap reasons, a person.

And whether its batch has one already.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any, NamedTuple

from django.db.models import BigIntegerField, Exists, F, OuterRef, QuerySet, Value
from django.db.models.functions import Cast

from batches.runs.errors import ScrapReasonElsewhereError
from batches.runs.models import Batch, Entry, ScrapReason
from batches.runs.steps.drafts import EntryDraft
from inventory.catalog.models import Equipment
from inventory.stock.selectors.among import AmongCodes, GivenMany
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.prepared import Given, Prepared

HAS_ENTRIES = "batch with entries"


class Names(NamedTuple):
    """Row numbers by code, and whether the batch has no entry yet that stands."""

    equipment: Mapping[str, int]
    reasons: Mapping[str, int]
    done_by_id: int | None
    is_first_entry: bool


def look_up_names(draft: EntryDraft, batch: Batch) -> Names:
    """Find all of them in one statement, once the batch is locked.

    Whether this is the first entry is asked here and not with the lock: a lock that waited still
    answers what stood before it waited.

    Raises:
        NotFoundError: something named does not exist, or is out of use.
        ScrapReasonElsewhereError: a scrap reason of another stage.
    """
    equipment = {tally.equipment_code for tally in draft.good}
    equipment |= {tally.equipment_code for tally in draft.scrap}
    equipment = (equipment | set(draft.equipment_codes)) - {""}
    reasons = {tally.reason_code for tally in draft.scrap}
    people = {draft.done_by} - {""}
    rows = _named(batch_id=batch.pk, equipment=equipment, reasons=reasons, people=people)
    found: dict[str, dict[str, tuple[int, int | None]]] = defaultdict(dict)
    for kind, code, number, stage in rows:
        found[kind][code] = (number, stage)
    for kind, codes in {"equipment": equipment, "scrap reason": reasons, "person": people}.items():
        missing = sorted(codes - found[kind].keys())
        if missing:
            facts = {kind.replace(" ", "_"): missing}
            raise NotFoundError(f"No {kind} in use has this name.", **facts)
    _refuse_elsewhere(found["scrap reason"], batch.stage_id)
    return Names(
        equipment={code: number for code, (number, _) in found["equipment"].items()},
        reasons={code: number for code, (number, _) in found["scrap reason"].items()},
        done_by_id=found["person"][draft.done_by][0] if people else None,
        is_first_entry=not found["batch"],
    )


def _all_named() -> QuerySet[Any, Any]:
    standing = Entry.objects.filter(batch=OuterRef("pk"), posting__reversed_by__isnull=True)
    batch = Batch.objects.filter(Exists(standing), pk=Given("batch_id", BigIntegerField()))
    in_use = {"is_active": True}
    equipment = Equipment.objects.filter(AmongCodes("code", GivenMany("equipment")), **in_use)
    reasons = ScrapReason.objects.filter(AmongCodes("code", GivenMany("reasons")), **in_use)
    people = User.objects.filter(AmongCodes("username", GivenMany("people")), **in_use)
    return _rows(batch, "batch").union(
        _rows(equipment, "equipment"),
        _rows(reasons, "scrap reason"),
        _rows(people, "person", code="username"),
        all=True,
    )


_named = Prepared(_all_named)


def _rows(rows: QuerySet[Any], kind: str, *, code: str = "code") -> QuerySet[Any, Any]:
    # PostgreSQL takes a bare NULL for text, which a later part's number does not match.
    nowhere = Cast(Value(None), BigIntegerField())
    stage = F("stage_id") if rows.model is ScrapReason else nowhere
    return rows.order_by().values_list(Value(kind), F(code), F("pk"), stage)


def _refuse_elsewhere(reasons: Mapping[str, tuple[int, int | None]], stage_id: int) -> None:
    elsewhere = [code for code, (_, stage) in reasons.items() if stage not in {None, stage_id}]
    if elsewhere:
        raise ScrapReasonElsewhereError(
            "This scrap reason belongs to another stage.", scrap_reasons=sorted(elsewhere)
        )
