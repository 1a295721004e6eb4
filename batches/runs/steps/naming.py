"""Looking up, in one statement, what an entry names by code: equipment, scrap reasons, a person."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from django.db.models import BigIntegerField, F, QuerySet, Value

from batches.runs.errors import ScrapReasonElsewhereError
from batches.runs.models import ScrapReason
from batches.runs.steps.drafts import EntryDraft
from inventory.catalog.models import Equipment
from shopfloor.errors import NotFoundError
from shopfloor.models import User


class Names(NamedTuple):
    """Row numbers by code."""

    equipment: Mapping[str, int]
    reasons: Mapping[str, int]
    done_by_id: int | None


def look_up_names(draft: EntryDraft, stage_id: int) -> Names:
    """Find all of them in one statement; none where nothing is named.

    Raises:
        NotFoundError: something named does not exist, or is out of use.
        ScrapReasonElsewhereError: a scrap reason of another stage.
    """
    equipment = {tally.equipment_code for tally in draft.good}
    equipment |= {tally.equipment_code for tally in draft.scrap}
    equipment = (equipment | set(draft.equipment_codes)) - {""}
    reasons = {tally.reason_code for tally in draft.scrap}
    parts = [
        _rows(Equipment.objects.filter(code__in=equipment, is_active=True), "equipment", "code"),
        _rows(ScrapReason.objects.filter(code__in=reasons, is_active=True), "scrap reason", "code"),
        _rows(User.objects.filter(username=draft.done_by, is_active=True), "person", "username"),
    ]
    wanted = {
        "equipment": equipment,
        "scrap reason": reasons,
        "person": {draft.done_by} - {""},
    }
    asked = [part for part, codes in zip(parts, wanted.values(), strict=True) if codes]
    if not asked:
        return Names({}, {}, None)
    found: dict[str, dict[str, tuple[int, int | None]]] = {kind: {} for kind in wanted}
    for kind, code, number, stage in asked[0].union(*asked[1:], all=True):
        found[kind][code] = (number, stage)
    for kind, codes in wanted.items():
        missing = sorted(codes - found[kind].keys())
        if missing:
            raise NotFoundError(
                f"No {kind} in use has this name.", **{kind.replace(" ", "_"): missing}
            )
    _refuse_elsewhere(found["scrap reason"], stage_id)
    people = [number for number, _ in found["person"].values()]
    return Names(
        equipment={code: number for code, (number, _) in found["equipment"].items()},
        reasons={code: number for code, (number, _) in found["scrap reason"].items()},
        done_by_id=people[0] if people else None,
    )


def _rows(rows: QuerySet[Any], kind: str, code: str) -> QuerySet[Any, Any]:
    stage = F("stage_id") if rows.model is ScrapReason else Value(None, BigIntegerField())
    return rows.order_by().values_list(Value(kind), F(code), F("pk"), stage)


def _refuse_elsewhere(reasons: Mapping[str, tuple[int, int | None]], stage_id: int) -> None:
    elsewhere = [code for code, (_, stage) in reasons.items() if stage not in {None, stage_id}]
    if elsewhere:
        raise ScrapReasonElsewhereError(
            "This scrap reason belongs to another stage.", scrap_reasons=sorted(elsewhere)
        )
