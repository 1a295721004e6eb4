"""Recording a check, and holding what fails it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import QuerySet

from batches.quality.errors import (
    CheckReplacedError,
    CheckResultUnfitError,
    CheckTooLargeError,
    CheckTooSmallError,
)
from batches.quality.models import (
    Check,
    CheckDefinition,
    CheckHold,
    CheckKind,
    CheckResult,
    HowMany,
)
from batches.quality.rules.plan_tables import AQLS
from batches.quality.rules.plans import Plan, is_failed, is_marginal
from batches.quality.selectors.made import Made, made_by_batch, made_by_lot, refuse_elsewhere
from batches.quality.selectors.plans import plan_of
from batches.quality.steps.definitions import lock_definition
from inventory.catalog.models import Equipment
from inventory.stock.models import Disposition, Lot
from inventory.stock.selectors.among import AmongCodes, GivenMany
from inventory.stock.steps import lock_lots_by_id
from inventory.stock.steps.holding import place_hold
from inventory.stock.steps.refusals import refuse_not_there_yet
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import ConflictError, InvalidInputError, NotFoundError
from shopfloor.inserted import insert
from shopfloor.prepared import Prepared
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class ResultDraft:
    """What somebody found: of several pieces alike, or the value of one."""

    tested: int | None = None
    failed: int | None = None
    value: Decimal | None = None
    equipment_code: str = ""


@dataclass(frozen=True, slots=True)
class CheckDraft:
    """A check as it is recorded: of a lot or of a batch, one of the two."""

    definition_code: str
    results: Sequence[ResultDraft]
    lot_code: str = ""
    batch_code: str = ""
    replaces: str = ""


def record_check(draft: CheckDraft, stamp: Stamp) -> Check:
    """Write a check down; where it fails, hold the lots as they were made and all made of them.

    Raises:
        NotFoundError: something named does not exist.
        InvalidInputError: not one of lot and batch.
        ConflictError: the definition is out of use.
        CheckElsewhereError, NothingToCheckError: it is not checked so.
        CheckResultUnfitError, CheckTooLargeError, CheckTooSmallError: the results cannot be meant.
        CheckReplacedError: what it replaces cannot be replaced.
        LotNotThereYetError: before the lot was made.
    """
    if bool(draft.lot_code) == bool(draft.batch_code):
        raise InvalidInputError("Name a lot or a batch, one of the two.")
    definition = lock_definition(draft.definition_code)
    if not definition.is_active:
        raise ConflictError("This check is out of use.", definition=definition.code)
    made = made_by_lot(draft.lot_code) if draft.lot_code else made_by_batch(draft.batch_code)
    refuse_elsewhere(definition, made)
    results = _results(definition, draft.results)
    lots = lock_lots_by_id(made.lot_ids)
    refuse_not_there_yet(lots.values(), stamp)
    check = _judged(definition, made, results, draft, stamp)
    insert([check])
    for result in results:
        result.check_row = check
    insert(results)
    if not check.is_passed:
        _hold(check, list(lots.values()), stamp)
    return check


def _judged(
    definition: CheckDefinition,
    made: Made,
    results: Sequence[CheckResult],
    draft: CheckDraft,
    stamp: Stamp,
) -> Check:
    lot_id = made.lot_ids[0] if draft.lot_code else None
    same = Check.objects.filter(definition=definition, batch=made.batch)
    same = same.filter(lot__isnull=True) if lot_id is None else same.filter(lot=lot_id)
    old = _replaced(draft.replaces, same) if draft.replaces else None
    plan = _plan_of_old(old) if old else plan_of(definition, made.pieces)[0]
    tested, failed = sum(row.tested for row in results), sum(row.failed for row in results)
    _refuse_size(plan, tested=tested, failed=failed, pieces=made.pieces)
    return Check(
        definition=definition,
        lot_id=lot_id,
        batch=made.batch,
        entry_id=made.entry_id,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
        lot_pieces=made.pieces,
        tested=tested,
        failed=failed,
        is_passed=not is_failed(plan, failed),
        is_first=old.is_first if old else not same.exists(),
        is_marginal=definition.how_many == HowMany.PLAN
        and is_marginal(
            lot_size=made.pieces,
            level=definition.level,
            aqls=AQLS,
            aql=definition.aql,
            failed=failed,
        ),
        plan_pieces=plan.size,
        accept=plan.accept,
        reject=plan.reject,
        letter=plan.letter,
        severity=plan.severity,
        replaces=old,
    )


def _replaced(code: str, same: QuerySet[Check]) -> Check:
    old = Check.objects.filter(pk=decode(code, Prefix.CHECK)[1]).first()
    if old is None:
        raise NotFoundError("No check has this code.", check=code)
    if Check.objects.filter(replaces=old).exists() or old not in same:
        raise CheckReplacedError(
            "That check was replaced before, or is of another definition, lot or batch. Replace "
            "the newest one of this.",
            check=code,
        )
    return old


def _plan_of_old(old: Check) -> Plan:
    return Plan(old.plan_pieces, old.accept, old.reject, old.letter, old.severity)


def _refuse_size(plan: Plan, *, tested: int, failed: int, pieces: int) -> None:
    if tested > pieces:
        raise CheckTooLargeError(
            f"{tested} pieces were tested and {pieces} were made. Correct the numbers.",
            tested=tested,
            made=pieces,
        )
    if tested < plan.size and not is_failed(plan, failed):
        raise CheckTooSmallError(
            f"Test {plan.size} pieces; {tested} cannot pass the lot. Test the rest and record all.",
            tested=tested,
            wanted=plan.size,
            accept=plan.accept,
            reject=plan.reject,
        )


def _results(definition: CheckDefinition, drafts: Sequence[ResultDraft]) -> list[CheckResult]:
    codes = {draft.equipment_code for draft in drafts} - {""}
    found = dict(_equipment_ids(codes=codes)) if codes else {}
    if missing := sorted(codes - found.keys()):
        raise NotFoundError("No equipment has this code.", equipment=missing)
    rows = []
    for number, draft in enumerate(drafts):
        tested, failed = _counts(definition, draft, number)
        rows.append(
            CheckResult(
                equipment_id=found.get(draft.equipment_code),
                tested=tested,
                failed=failed,
                value=draft.value,
            )
        )
    return rows


_equipment_ids = Prepared(
    lambda: Equipment.objects.filter(AmongCodes("code", GivenMany("codes"))).values_list(
        "code", "pk"
    )
)


def _counts(definition: CheckDefinition, draft: ResultDraft, number: int) -> tuple[int, int]:
    """Pieces tested and failed of one result."""
    if definition.kind == CheckKind.MEASURED:
        if draft.value is None or draft.failed is not None or draft.tested not in {None, 1}:
            raise _unfit(number, "A measured check takes one value a piece, and judges it itself.")
        is_low = definition.lower is not None and draft.value < definition.lower
        is_high = definition.upper is not None and draft.value > definition.upper
        return 1, int(is_low or is_high)
    if draft.value is not None or not draft.tested or draft.failed is None:
        raise _unfit(number, "Give the pieces tested, at least 1, and how many failed; no value.")
    if definition.kind == CheckKind.PASS_FAIL and draft.failed > draft.tested:
        raise _unfit(number, "More failed than were tested.")
    return draft.tested, draft.failed


def _unfit(number: int, words: str) -> CheckResultUnfitError:
    return CheckResultUnfitError(f"Result {number + 1}: {words}", result=number + 1)


def _hold(check: Check, lots: Sequence[Lot], stamp: Stamp) -> None:
    """One hold a lot; a rejected one is stopped already."""
    words = f"Check {check.code} failed: {check.definition.name}, {check.failed} of {check.tested}."
    because = replace(stamp, reason=words)
    for lot in lots:
        if lot.disposition != Disposition.REJECTED:
            CheckHold.objects.create(check_row=check, hold=place_hold(lot, because))
