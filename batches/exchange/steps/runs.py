"""Past runs: a batch is planned, started, entered and completed as its rows come along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from batches.exchange.rules.lists import Tally
from batches.exchange.rules.reading import Row
from batches.exchange.steps.rowing import Importing, refusals_of
from batches.runs.models import Batch, BatchState
from batches.runs.steps.batches import BatchPlan, change_state, plan_batch
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from batches.runs.steps.entering import record_entry
from inventory.stock.models import Grade
from shopfloor.days import shop_day


@dataclass(slots=True)
class BatchRows:
    """The rows of one batch that are still to come, by time."""

    rows: list[Row]
    batch: Batch | None = None
    done: int = 0


@dataclass(slots=True)
class Floor:
    """The batches of an import, by code."""

    batches: dict[str, BatchRows] = field(default_factory=dict)

    def take_in(self, rows: Sequence[Row]) -> None:
        """Get to know the rows of all batches, in the order of their time."""
        for row in sorted(rows, key=lambda row: row["at"]):
            self.batches.setdefault(row["batch"], BatchRows([])).rows.append(row)


def post_run(row: Row, floor: Floor, importing: Importing) -> None:
    """One entry; its batch is planned and started before the first, completed after the last."""
    of_batch = floor.batches[row["batch"]]
    with refusals_of(row):
        if of_batch.batch is None:
            of_batch.batch = _started(of_batch.rows, importing)
        recorded = record_entry(_draft(row, importing), importing.stamp(row["at"]))
        importing.lots.learn(recorded)
        of_batch.done += 1
        if of_batch.done == len(of_batch.rows) and row["complete"] is not False:
            change_state(of_batch.batch, BatchState.COMPLETE, importing.stamp(row["at"]))


def _started(rows: Sequence[Row], importing: Importing) -> Batch:
    first = rows[0]
    began_at = _began_at(first)
    planned = first["planned"]
    if planned is None:
        planned_base = max(sum(_good_base(row, importing) for row in rows), 1)
    else:
        planned_base = importing.qty_base(first["item"], planned.amount, planned.unit)
    batch = plan_batch(
        BatchPlan(
            item_code=first["item"],
            planned_base=planned_base,
            planned_on=shop_day(began_at),
            code=first["batch"],
        ),
        importing.stamp(began_at),
    )
    change_state(batch, BatchState.RUNNING, importing.stamp(began_at))
    return batch


def _began_at(row: Row) -> datetime:
    at: datetime = row["at"]
    return at - timedelta(minutes=row["minutes"] or 0)


def _good_base(row: Row, importing: Importing) -> int:
    return sum(_base(row, tally, importing) for tally in row["good"] or ())


def _base(row: Row, tally: Tally, importing: Importing) -> int:
    return importing.qty_base(row["item"], tally.amount, tally.unit)


def _draft(row: Row, importing: Importing) -> EntryDraft:
    uses: list[LotUse] = []
    for used in row["lots"] or ():
        uses += importing.lots.uses(used, row["at"])
    return EntryDraft(
        batch_code=row["batch"],
        good=[
            GoodTally(
                qty_base=_base(row, tally, importing),
                grade=tally.name or row["grade"] or Grade.FIRST,
                equipment_code=tally.equipment,
            )
            for tally in row["good"] or ()
        ],
        scrap=[
            ScrapTally(
                qty_base=_base(row, tally, importing),
                reason_code=tally.name,
                equipment_code=tally.equipment,
            )
            for tally in row["scrap"] or ()
        ],
        lots=uses,
        equipment_codes=row["equipment"] or (),
        factors=row["factors"] or {},
        minutes=row["minutes"],
        done_by=row["done_by"] or "",
        override_reason=row["override_reason"] or "",
    )
