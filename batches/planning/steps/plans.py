"""Steps about build plans."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db import IntegrityError

from batches.bills.models import BillRevision, RevisionState
from batches.packing.errors import NotPiecesError
from batches.planning.errors import PlanLineTwiceError, WeekOverError
from batches.planning.models import BuildPlan, BuildPlanLine
from batches.planning.rules.weeks import monday
from batches.planning.selectors.shop import no_bill
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import DimensionKind, Item
from inventory.catalog.selectors import items_by_code, refuse_out_of_use
from inventory.catalog.steps.rows import lock_row, refuse_unfit
from shopfloor.audit import audit_change, facts_of
from shopfloor.codes.alphabet import own_code
from shopfloor.days import shop_day
from shopfloor.models import User


class PlanLine(NamedTuple):
    """Good pieces of an item that shall be ready in the week of a day; 0 takes the line out."""

    item_code: str
    day: date
    pieces: int


def add_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Write a plan and its lines. Needs an open transaction.

    Raises:
        OwnCodeError, DuplicateCodeError: the code cannot be used, or is taken.
        Others: as `edit_plan`.
    """
    columns = dict(fields)
    lines: Sequence[PlanLine] = columns.pop("lines", ())
    plan = BuildPlan(code=own_code(code), by=by, recorded_at=at, **columns)
    refuse_unfit(plan)
    try:
        plan.save(force_insert=True)
    except IntegrityError as error:
        if "code" not in str(error):
            raise
        raise DuplicateCodeError(f"The code {code} is taken. Give another.", code=code) from error
    _set_lines(plan, lines, at=at)
    audit_change(by=by, at=at, row=plan, before=None, after=_facts(plan))
    return plan


def edit_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Change a plan; what is not named stays, of the lines too. Needs an open transaction.

    Raises:
        NotFoundError: no such plan or item.
        InvalidInputError: `facts["fields"]` has the messages by field.
        WeekOverError, PlanLineTwiceError: of the lines.
        NotPiecesError, NotActiveError, NoCurrentBillError: an item that cannot be planned.
    """
    columns = dict(fields)
    lines: Sequence[PlanLine] = columns.pop("lines", ())
    plan = lock_row(BuildPlan, code)
    before = _facts(plan)
    for name, value in columns.items():
        setattr(plan, name, value)
    refuse_unfit(plan)
    plan.save()
    _set_lines(plan, lines, at=at)
    audit_change(by=by, at=at, row=plan, before=before, after=_facts(plan))
    return plan


def _set_lines(plan: BuildPlan, lines: Sequence[PlanLine], *, at: datetime) -> None:
    """Four statements, whatever their number; those of no pieces are taken out."""
    items = items_by_code(line.item_code for line in lines)
    _refuse_twice(lines)
    _refuse_weeks_over(lines, today=shop_day(at))
    _refuse_unplannable({line.item_code: items[line.item_code] for line in lines if line.pieces})
    wanted = {(items[line.item_code].pk, monday(line.day)): line.pieces for line in lines}
    standing = {(row.item_id, row.week_on): row for row in plan.lines.all()}
    gone = [row.pk for key, row in standing.items() if wanted.get(key) == 0]
    plan.lines.filter(pk__in=gone).delete()
    changed = []
    for key in wanted.keys() & standing.keys():
        standing[key].qty_base = wanted[key]
        changed.append(standing[key])
    BuildPlanLine.objects.bulk_update([row for row in changed if row.qty_base], ["qty_base"])
    BuildPlanLine.objects.bulk_create(
        BuildPlanLine(plan=plan, item_id=item, week_on=week, qty_base=pieces, recorded_at=at)
        for (item, week), pieces in wanted.items()
        if pieces and (item, week) not in standing
    )


def _refuse_twice(lines: Iterable[PlanLine]) -> None:
    seen: set[tuple[str, date]] = set()
    for line in lines:
        week_on = monday(line.day)
        if (line.item_code, week_on) in seen:
            raise PlanLineTwiceError(
                "An item stands twice in one week. Add its pieces up.",
                item=line.item_code,
                week_on=week_on.isoformat(),
            )
        seen.add((line.item_code, week_on))


def _refuse_weeks_over(lines: Iterable[PlanLine], *, today: date) -> None:
    over = [line for line in lines if monday(line.day) < monday(today)]
    if over:
        raise WeekOverError(
            "A plan is of this week or a later one. Give another day.",
            item=over[0].item_code,
            day=over[0].day.isoformat(),
            this_week_on=monday(today).isoformat(),
        )


def _refuse_unplannable(items: Mapping[str, Item]) -> None:
    for item in items.values():
        refuse_out_of_use(item)
        if item.dimension != DimensionKind.COUNT:
            raise NotPiecesError("Only what is counted in pieces is planned.", item=item.code)
    has_bill = set(
        BillRevision.objects.filter(
            state=RevisionState.CURRENT, bill__item__in=[item.pk for item in items.values()]
        ).values_list("bill__item_id", flat=True)
    )
    for code in sorted(items):
        if items[code].pk not in has_bill:
            raise no_bill(items[code])


def _facts(plan: BuildPlan) -> dict[str, object]:
    """As the audit keeps it: its lines by item and Monday."""
    lines = plan.lines.order_by("week_on", "item__code").values_list(
        "week_on", "item__code", "qty_base"
    )
    return {**facts_of(plan), "lines": [[str(on), item, str(qty)] for on, item, qty in lines]}
