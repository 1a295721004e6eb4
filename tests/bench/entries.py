"""Posting an entry of ten lots, key and answer and all, beside the same rows written bare."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Iterator
from typing import Any
from uuid import uuid4

from django.db import connections
from django.utils import timezone
from rest_framework.test import APIClient

from batches.packing.models import Customer
from batches.runs.models import Batch, Entry, ScrapReason
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from inventory.catalog.models import Equipment
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from inventory.stock.selectors.lots import as_json
from shopfloor.models import RequestKey, User
from shopfloor.operation import RequestToken
from shopfloor.stamp import Stamp
from tests.bench.bare_entries import Job, connect, write_entry
from tests.bench.figures import Figure
from tests.bench.past.floor import enter_floor

MADE = "M90-BODY"
TAKEN = {
    "M90-LEFT": 2, "M90-RIGHT": 2, "HANGER": 2, "TIE": 1, "ADH-MIX": 2, "BALLAST": 1,
}  # fmt: skip
ENTRIES = 200
GOAL = 0.25
WRITERS = (1, 8)


def rows() -> Iterator[Figure]:
    """Ours and bare, one writer and eight at once that take of the same lots."""
    if not Customer.objects.exists():
        enter_floor(model="M90")
    for writers in WRITERS:
        jobs = _jobs(writers)
        each = ENTRIES // writers
        took: dict[str, float] = {}
        for name, work in (("ours", _ours), ("door", _door), ("bare", _bare)):
            _at_once(work, jobs, each=5)
            before = _written(jobs)
            took[name] = _at_once(work, jobs, each=each) / (each * writers)
            assert _written(jobs) - before == each * writers, "every entry is there"
        _prove(jobs)
        who = "one writer" if writers == 1 else f"{writers} writers"
        yield Figure(f"an entry of 10 lots, {who}", took["ours"], took["bare"], GOAL)
        yield Figure(f"the same over the API's door, {who}", took["door"], took["bare"], 0)


def _jobs(writers: int) -> list[Job]:
    """A running batch for each writer, and ten lots that all of them take from."""
    now = timezone.now()
    by = User.objects.get(username="owner")
    stamp = Stamp(by=by, at=now, now=now)
    opening = [
        OpeningLot(item_code=code, qty_base=10**9, value_micro=10**9)
        for code, lots in TAKEN.items()
        for _ in range(lots)
    ]
    lots = take_in_opening_lots(lots=opening, stamp=stamp).made
    jobs = []
    for _ in range(writers):
        batch = plan(plan=BatchPlan(item_code=MADE, planned_base=1000), stamp=stamp)
        start_batch(batch_code=batch.code, stamp=stamp)
        place_id = batch.item.storage_place_id
        assert place_id is not None
        jobs.append(
            Job(
                batch_id=batch.pk,
                item_id=batch.item_id,
                place_id=place_id,
                user_id=by.pk,
                reason_id=ScrapReason.objects.get(code="LEAK").pk,
                equipment_id=Equipment.objects.get(code="W1").pk,
                takes=[(lot.pk, 20) for lot in lots],
                good=19,
                scrap=1,
            )
        )
    return jobs


def _ours(job: Job) -> Callable[[], object]:
    by = User.objects.get(pk=job.user_id)
    codes = dict(Lot.objects.filter(pk__in=dict(job.takes)).values_list("pk", "code"))
    draft = EntryDraft(
        batch_code=Batch.objects.get(pk=job.batch_id).code,
        good=[GoodTally(job.good, equipment_code="W1")],
        scrap=[ScrapTally(job.scrap, "LEAK")],
        lots=[LotUse(codes[lot_id], qty) for lot_id, qty in job.takes],
        equipment_codes=["W1"],
        factors={"humidity": "40"},
        minutes=30,
    )

    def post() -> object:
        now = timezone.now()
        token = RequestToken(user_id=by.pk, key=uuid4().hex, fingerprint="0" * 64)
        stamp = Stamp(by=by, at=now, now=now)
        return record.answering(token, as_json)(draft=draft, stamp=stamp)

    return post


def _door(job: Job) -> Callable[[], object]:
    client = APIClient(SERVER_NAME="localhost")
    client.force_login(User.objects.get(pk=job.user_id))
    code = Batch.objects.get(pk=job.batch_id).code
    lots = Lot.objects.select_related("item").in_bulk([lot_id for lot_id, _ in job.takes])
    body = {
        "good": [{"pieces": job.good, "equipment": "W1"}],
        "scrap": [{"pieces": job.scrap, "scrap_reason": "LEAK"}],
        "lots": [
            {
                "lot": lots[lot_id].code,
                "amount": str(qty),
                "unit": "mg" if lots[lot_id].item.dimension == "mass" else "each",
            }
            for lot_id, qty in job.takes
        ],
        "equipment": ["W1"],
        "factors": [{"name": "humidity", "value": "40"}],
        "minutes": 30,
    }

    def post() -> object:
        answer: Any = client.post(
            f"/api/v1/batches/{code}/entries/",
            body,
            format="json",
            headers={"Idempotency-Key": uuid4().hex},
        )
        assert answer.status_code == 201, answer.content
        assert len(answer.json()["taken"]) == len(job.takes)
        return answer

    return post


def _bare(job: Job) -> Callable[[], object]:
    bare = connect()
    return lambda: write_entry(bare, job)


def _at_once(work: Callable[[Job], Callable[[], object]], jobs: list[Job], *, each: int) -> float:
    """Seconds until every writer, a process of its own, has written so many entries."""
    connections.close_all()
    context = multiprocessing.get_context("fork")
    start = context.Barrier(len(jobs) + 1)
    writers = [context.Process(target=_write, args=(work, job, each, start)) for job in jobs]
    for writer in writers:
        writer.start()
    start.wait()
    began = time.perf_counter()
    for writer in writers:
        writer.join()
    took = time.perf_counter() - began
    assert [writer.exitcode for writer in writers] == [0] * len(writers), "nobody was refused"
    return took


def _write(work: Callable[[Job], Callable[[], object]], job: Job, each: int, start: Any) -> None:
    post = work(job)
    start.wait()
    for _ in range(each):
        post()


def _written(jobs: list[Job]) -> int:
    return Entry.objects.filter(batch__in=[job.batch_id for job in jobs]).count()


def _prove(jobs: list[Job]) -> None:
    """No update was lost: each lot holds what its movements say."""
    for lot in Lot.objects.filter(pk__in=dict(jobs[0].takes)):
        moved = Movement.objects.filter(lot=lot).values_list("qty_base", "value_micro")
        assert lot.on_hand_base == sum(qty for qty, _ in moved)
        assert lot.value_micro == sum(value for _, value in moved)
    assert not RequestKey.objects.filter(status=None).exists()
