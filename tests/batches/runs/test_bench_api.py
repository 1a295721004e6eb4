"""The bench asks: what waits before each stage, what to take for so many pieces, what fits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from batches.runs.operations import record
from batches.runs.rules import yield_ratio
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from inventory.stock.operations import hold_lot
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches.floor import Caller
from tests.batches.runs.conftest import LATER, running, stamp_at, stock


@pytest.fixture
def asking(shop: User) -> Caller:
    return Caller(shop)


def just_now(by: User) -> Stamp:
    now = timezone.now()
    return Stamp(by=by, at=now, now=now)


def test_a_yield_is_good_of_all_and_none_of_nothing() -> None:
    assert yield_ratio(good=97, scrapped=3) == Decimal("0.9700")
    assert yield_ratio(good=2, scrapped=1) == Decimal("0.6667")
    assert yield_ratio(good=0, scrapped=0) is None


def test_the_line_tells_what_waits_what_runs_and_what_came_out(
    shop: User, asking: Caller, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    stock(shop, "HALF", 300, lot_code="HALVES")
    stock(shop, "HALF", 40, lot_code="BAD")
    stock(shop, "ADH-A", 90_000, lot_code="GLUE")
    hold_lot(lot_code="BAD", stamp=stamp_at(shop))
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(95)], scrap=[ScrapTally(5, "LEAK")])
    record(draft=draft, stamp=just_now(shop))
    with django_assert_num_queries(6):
        stages = asking.get("stage-line/", days=3).json()["stages"]
    assert [each["code"] for each in stages] == ["MOLDING", "MIXING", "GLUING"]
    assert stages[2] == {
        "code": "GLUING",
        "name": "Gluing",
        "is_mixing": False,
        "waiting": {"lots": 1, "pieces": 100, "held_pieces": 40},
        "batches": {"planned": 0, "idle": 0, "running": 1, "held": 0},
        "running": [{"code": batch.code, "item": "BODY", "state": "running"}],
        "yield_ratio": "0.9500",
    }
    assert stages[0]["yield_ratio"] is None
    assert asking.get("stage-line/", days=0).status_code == 422


def test_what_is_proposed_is_what_an_entry_then_takes(shop: User, asking: Caller) -> None:
    soon, later = LATER + timedelta(days=3000), LATER + timedelta(days=4000)
    stock(shop, "HALF", 150, lot_code="HF-LATE", expires_at=later)
    stock(shop, "HALF", 60, lot_code="HF-SOON", expires_at=soon)
    stock(shop, "ADH-A", 60_000, lot_code="GLUE")
    batch = running(shop, "BODY")
    said = asking.get(
        f"batches/{batch.code}/proposal/", amount="100", unit="each", lots="hf-late"
    ).json()
    plain = asking.get(f"batches/{batch.code}/proposal/", amount="100", unit="each").json()
    recorded = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(100)], lots=[LotUse("HF-LATE")]),
        stamp=just_now(shop),
    )
    proposed = {lot["lot"]: lot["amount"] for line in said["lines"] for lot in line["lots"]}
    assert proposed == {row.lot: row.amount._asdict() for row in recorded.taken}
    assert [lot["lot"] for lot in plain["lines"][0]["lots"]] == ["HF-SOON", "HF-LATE"]
    # 100 pieces x 0.15 g, and 5 g once a batch: the first entry.
    assert said["lines"][1]["need"] == {"amount": "20", "unit": "g"}
    assert said["lines"][1]["lots"][0]["place"] == "SHELF"


def test_a_proposal_says_what_no_lot_covers_and_what_is_scanned_in_vain(
    shop: User, asking: Caller
) -> None:
    stock(shop, "HALF", 50, lot_code="HF-1")
    stock(shop, "ADH-A", 60_000, lot_code="GLUE")
    stock(shop, "ADH-A", 60_000, lot_code="GLUE-2")
    batch = running(shop, "BODY")
    said = asking.get(
        f"batches/{batch.code}/proposal/", amount="100", unit="each", lots="GLUE,GLUE-2"
    ).json()
    assert said["lines"][0]["missing"] == {"amount": "150", "unit": "each"}
    assert said["not_taken"] == ["GLUE-2"]
    stranger = asking.get(f"batches/{batch.code}/proposal/", amount="0.5", unit="each")
    assert stranger.json()["code"] == "fraction_of_piece"
    nothing = asking.get(f"batches/{batch.code}/proposal/", amount="0", unit="each")
    assert nothing.json()["facts"]["fields"] == {"amount": ["Give an amount above zero."]}


def fits(asking: Caller, batch: str, lot: str) -> Any:
    return asking.get(f"batches/{batch}/fits/", lot=lot).json()


def test_a_scanned_lot_fits_or_the_refusal_says_why(shop: User, asking: Caller) -> None:
    soon, later = LATER + timedelta(days=3000), LATER + timedelta(days=4000)
    stock(shop, "HALF", 60, lot_code="HF-SOON", expires_at=soon)
    stock(shop, "HALF", 150, lot_code="HF-LATE", expires_at=later)
    stock(shop, "HALF", 150, lot_code="HF-HELD")
    stock(shop, "HALF", 150, lot_code="HF-OLD", expires_at=stamp_at(shop).at)
    stock(shop, "RESIN", 150, lot_code="PELLETS")
    stock(shop, "HALF", 10, lot_code="HF-THEIRS", owner="somebody")
    hold_lot(lot_code="HF-HELD", stamp=stamp_at(shop))
    batch = running(shop, "BODY").code
    assert fits(asking, batch, "hf-soon")["goes_before"] is None
    late = fits(asking, batch, "HF-LATE")
    assert late["goes_before"] == "HF-SOON"
    assert late["says"] == "150 of HALF, at SHELF. HF-SOON should go first: it ends sooner."
    why = {code: fits(asking, batch, code)["code"] for code in ("HF-HELD", "HF-OLD", "PELLETS")}
    assert why == {"HF-HELD": "lot_held", "HF-OLD": "lot_expired", "PELLETS": "lot_not_in_bill"}
    assert fits(asking, batch, "HF-THEIRS")["code"] == "lot_not_ours"
    assert fits(asking, batch, "NO-LOT")["code"] == "not_found"


def test_the_bench_gets_reasons_of_its_stage_and_the_wheel_it_used_last(
    shop: User, asking: Caller, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    stock(shop, "HALF", 600)
    stock(shop, "ADH-A", 90_000)
    first = running(shop, "BODY")
    draft = EntryDraft(batch_code=first.code, good=[GoodTally(40)], equipment_codes=["WHEEL-1"])
    record(draft=draft, stamp=just_now(shop))
    second = running(shop, "BODY", 60)
    with django_assert_max_num_queries(8):
        said = asking.get(f"batches/{second.code}/bench/").json()
    assert [reason["code"] for reason in said["scrap_reasons"]] == ["LEAK"]
    assert said["left"] == {"amount": "60", "unit": "each"}
    wheel = said["equipment"][0]
    assert (wheel["code"], wheel["was_last"], wheel["is_of_stage"]) == ("WHEEL-1", True, True)
    assert [part["number"] for part in wheel["parts"]] == [1, 2, 3, 4]
    again = asking.get(f"batches/{first.code}/bench/").json()
    assert again["left"]["amount"] == "60"
    assert again["entries"][0]["good"]["amount"] == "40"


def test_what_was_noted_today_stands_and_what_is_older_is_offered(
    shop: User, asking: Caller
) -> None:
    stock(shop, "HALF", 600)
    stock(shop, "ADH-A", 90_000)
    batch = running(shop, "BODY")
    for days, factors in (
        (2, {"booth": "2", "humidity": "61 %"}),
        (1, {"humidity": "55 %"}),
        (0, {"humidity": "48 %", "lamp": ""}),
    ):
        draft = EntryDraft(batch_code=batch.code, good=[GoodTally(4)], factors=factors)
        stamp = just_now(shop)
        record(draft=draft, stamp=replace(stamp, at=stamp.at - timedelta(days=days)))
    said = asking.get(f"batches/{batch.code}/bench/").json()["factors"]
    assert said == [
        {"name": "booth", "values": ["2"], "today": None},
        {"name": "humidity", "values": ["48 %", "55 %", "61 %"], "today": "48 %"},
    ]


def test_open_batches_are_found_by_their_being_open(shop: User, asking: Caller) -> None:
    batch = running(shop, "BODY")
    assert asking.get("batches/", is_open="true").json()["count"] == 1
    asking.post(f"batches/{batch.code}/abort/", {"reason": "no glue"})
    assert asking.get("batches/", is_open="true").json()["count"] == 0
    assert asking.get("batches/", is_open="false").json()["count"] == 1
