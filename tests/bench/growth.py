"""What a shop does all day, after one year and after ten (or forty): it must not get slower.

Ratios are of the young shop to the old; the same day's work in both, over the same doors.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any, Final
from uuid import uuid4

from django.db import connection
from django.utils import timezone
from rest_framework.test import APIClient

from batches.packing.models import Box
from batches.runs.operations import plan, start_batch
from batches.runs.steps.batches import BatchPlan
from inventory.reorder.selectors import reorder_list
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.days import shop_day
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.bench.figures import Figure
from tests.bench.places import open_shop, years_open

YOUNG: Final = 1
OLD: Final = 10  # where no older shop is asked for
GOAL: Final = round(1 / 1.3, 2)
ROUNDS: Final = 2  # the two by turns: the machine has better and worse minutes
TIMES: Final = 15
TRACES: Final = 5
TWO_YEARS: Final = "the reorder list"
"""From two years of use; the shop of one year has half as much to read."""

Ask = Callable[[], object]


def rows() -> Iterator[Figure]:
    """Each read and write in both shops; the best of some runs."""
    both = (YOUNG, max(OLD, years_open()))
    took: dict[int, dict[str, float]] = {years: {} for years in both}
    for years in both * ROUNDS:
        with open_shop(years=years):
            for what, ask in _day(_client()).items():
                took[years][what] = min(best(ask), took[years].get(what, float("inf")))
    young, old = took.values()
    for what, seconds in old.items():
        goal = 0 if what == TWO_YEARS else GOAL
        yield Figure(f"{what}: {both[1]} years beside {YOUNG}", seconds, young[what], goal)


def best(ask: Ask) -> float:
    """The fastest of some runs: whoever else uses the machine only ever makes it slower.

    SQLite works in this process, so its processor time tells; PostgreSQL does not.
    """
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    times = []
    for _ in range(TIMES):
        start = clock()
        ask()
        times.append(clock() - start)
    return min(times)


def _client() -> APIClient:
    client = APIClient(SERVER_NAME="localhost")
    client.force_login(_owner())
    return client


def _owner() -> User:
    return User.objects.get(username="owner")


def _day(client: APIClient) -> dict[str, Ask]:
    """What is asked, by what it is called."""

    def get(path: str, **query: Any) -> Any:
        answer = client.get(path, query)
        assert answer.status_code == 200, answer.content
        return answer

    def post(path: str, body: Any) -> Any:
        headers = {"Idempotency-Key": uuid4().hex}
        answer = client.post(f"/api/v1/{path}", body, format="json", headers=headers)
        assert answer.status_code in {200, 201}, answer.content
        return answer.json()

    batch, lures = _running_batch_and_lures()
    used, boxes = lots_to_follow(), boxes_to_follow()

    def box_up() -> str:
        box = post("boxes/", {"contents": [{"lot": lures, "pieces": 10}]})["code"]
        post(f"boxes/{box}/close/", {})
        return str(box)

    closed = [box_up() for _ in range(TIMES)]
    return {
        "the first page": lambda: get("/"),
        "a list of 100 lots on hand": lambda: get(
            "/api/v1/lots/", is_on_hand="true", page_size=100
        ),
        "the newest 100 postings": lambda: get("/api/v1/postings/", ordering="-at", page_size=100),
        "the newest 100 entries": lambda: get(
            "/api/v1/entries/", ordering="-posting__at", page_size=100
        ),
        TWO_YEARS: lambda: get("/api/v1/reorder/"),
        "the reorder list from a year of use": lambda: reorder_list(
            on=shop_day(timezone.now()), window_days=365
        ),
        "traces of 5 lots downstream": lambda: [
            get("/api/v1/trace/downstream/", lot=code) for code in used
        ],
        "traces of 5 boxes upstream": lambda: [
            get("/api/v1/trace/upstream/", box=code) for code in boxes
        ],
        "receiving two lots": lambda: post("receipts/", _DELIVERY),
        "an entry": lambda: post(f"batches/{batch}/entries/", _ENTRY),
        "packing a box": lambda: post("boxes/", {"contents": [{"lot": lures, "pieces": 10}]}),
        "shipping a box": lambda: post(
            "shipments/",
            {
                "customer": "CUST-01",
                "boxes": [closed.pop()],
                "prices": [{"item": "M90-GRN", "price": "6.50"}],
            },
        ),
    }


_DELIVERY: Final = {
    "supplier": "NORTH",
    "lines": [{"item": "HOOK-6", "amount": "1000", "unit": "each", "value": "51.00"}] * 2,
}
_ENTRY: Final = {
    "good": [{"pieces": 100}],
    "scrap": [{"pieces": 1, "scrap_reason": "LEAK"}],
    "equipment": ["W1"],
}


def _running_batch_and_lures() -> tuple[str, str]:
    """A batch of bodies with enough to work on, and a lot of packed lures."""
    now = timezone.now()
    taken = ("M90-LEFT", "M90-RIGHT", "HANGER", "TIE", "ADH-MIX", "BALLAST", "M90-GRN")
    opening = [OpeningLot(item_code=code, qty_base=10**9, value_micro=10**9) for code in taken]
    stamp = Stamp(by=_owner(), at=now, now=now)
    made = take_in_opening_lots(lots=opening, stamp=stamp).made
    batch = plan(plan=BatchPlan(item_code="M90-BODY", planned_base=1000), stamp=stamp)
    start_batch(batch_code=batch.code, stamp=stamp)
    return batch.code, made[-1].code


def lots_to_follow() -> list[str]:
    """Lots of adhesive that came a quarter of a year ago."""
    since = timezone.now() - timedelta(days=90)
    lots = Lot.objects.filter(item__code="ADH-A", born_at__gte=since, parent=None)
    return list(lots.order_by("born_at").values_list("code", flat=True)[:TRACES])


def boxes_to_follow() -> list[str]:
    """The boxes that left last."""
    shipped = Box.objects.filter(state="shipped").order_by("-pk")
    return list(shipped.values_list("code", flat=True)[:TRACES])
