"""Every door of runs: a good call, who may come in, once a key, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any, NamedTuple
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from batches.runs.models import Entry
from batches.runs.operations import hold_batch, plan, ready_batch, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.catalog.operations import change_item
from inventory.stock.models import Lot
from inventory.stock.operations import dispose_of_lot, hold_lot, open_lot, reject_lot
from shopfloor.models import RequestKey, User
from tests.batches.runs.conftest import NOON, stamp_at, stock
from tests.inventory.stock.machine import rows
from tests.kept import Kept

API = "/api/v1/"
AT = "2026-03-03T12:00:00Z"
WHY: dict[str, Any] = {"at": AT, "reason": "because"}

LEADS = {"owner", "lead"}
BENCHES = LEADS | {"bench"}
ROLES = ["bench", "lead", "owner", "packer", "viewer"]

BODIES: dict[str, Any] = {
    "at": AT,
    "good": [{"pieces": 8, "equipment": "WHEEL-1-1"}, {"pieces": 1, "grade": "second"}],
    "scrap": [{"pieces": 1, "scrap_reason": "LEAK", "equipment": "wheel-1-2"}],
    "lots": [{"lot": "HALVES"}, {"lot": "GLUE", "amount": "6.5", "unit": "g"}],
    "equipment": ["WHEEL-1"],
    "factors": [{"name": "humidity", "value": "45"}],
    "minutes": 25,
}


class Door(NamedTuple):
    """A write: where, who may, a good body, its status, and what of the answer tells."""

    path: str
    who: set[str]
    body: dict[str, Any]
    status: int
    tells: Callable[[Any], object]
    told: object


WRITES = {
    "plan": Door(
        "batches/", LEADS, {"item": "body", "pieces": 100, "code": "new-1"}, 201,
        lambda a: (a["code"], a["state"], a["planned"]["amount"], a["stage"], a["revision"]),
        ("NEW-1", "planned", "100", "GLUING", 1),
    ),
    "plan a mixture": Door(
        "batches/", LEADS, {"item": "ADH-MIX", "amount": "0.1", "unit": "kg"}, 201,
        lambda a: a["planned"], {"amount": "100", "unit": "g"},
    ),
    "ready": Door("batches/PLANNED/ready/", LEADS, WHY, 200, lambda a: a["state"], "idle"),
    "start": Door("batches/IDLE/start/", BENCHES, WHY, 200, lambda a: a["state"], "running"),
    "hold": Door("batches/gluing/hold/", BENCHES, WHY, 200, lambda a: a["state"], "held"),
    "resume": Door("batches/PAUSED/resume/", BENCHES, WHY, 200, lambda a: a["state"], "running"),
    "complete": Door(
        "batches/GLUING/complete/", BENCHES, WHY, 200,
        lambda a: (a["state"], a["good"]["amount"], a["entries"]), ("complete", "10", 1),
    ),
    "abort": Door("batches/GLUING/abort/", LEADS, WHY, 200, lambda a: a["state"], "aborted"),
    "enter": Door(
        "batches/GLUING/entries/", BENCHES, BODIES, 201,
        lambda a: (
            [(row["lot"], row["amount"]["amount"], row["value"]) for row in a["taken"]],
            [(row["amount"]["amount"], row["value"]) for row in a["made"]],
        ),
        (
            [("HALVES", "20", "0.20"), ("GLUE", "6.5", "0.065")],
            [("8", "0.235555"), ("1", "0.029445")],
        ),
    ),
    "enter a mixture": Door(
        "batches/MIXING/entries/", BENCHES, {"good": [{"amount": "20", "unit": "g"}], "at": AT},
        201,
        lambda a: (a["good"], [row["item"] for row in a["taken"]]),
        ({"amount": "20", "unit": "g"}, ["ADH-A", "ADH-B"]),
    ),
    "reverse": Door(
        "entries/{entry}/reverse/", BENCHES, WHY, 200,
        lambda a: (a["batch"], a["reversed_by"][:2]), ("GLUING", "P-"),
    ),
    "scrap reason": Door(
        "scrap-reasons/", LEADS, {"code": "flash", "name": "Flash", "stage": "molding"}, 201,
        lambda a: a, {"code": "FLASH", "name": "Flash", "stage": "MOLDING"},
    ),
}  # fmt: skip


@pytest.fixture
def people(shop: User) -> dict[str, User]:
    """One of each role; the lead is the shop's."""
    others = {
        role: User.objects.create(
            username=role, display_name=f"The {role}", role=role, created_at=NOON
        )
        for role in ROLES
        if role != "lead"
    }
    return {**others, "lead": shop}


def _make_work(*, shop: User) -> None:
    change_item(code="ADH-A", fields={"opened_life_minutes": 60}, by=shop, at=NOON)
    stock(shop, "HALF", 500, 5_000_000, lot_code="HALVES")
    stock(shop, "ADH-A", 1_000_000, 10_000_000, lot_code="GLUE")
    stock(shop, "ADH-B", 1_000_000, lot_code="HARDENER")
    stock(shop, "RESIN", 10_000_000, lot_code="RESIN-1")
    stock(shop, "REGRIND", 10_000_000, lot_code="REGRIND-1")
    for code, item in {
        "GLUING": "BODY", "PAUSED": "BODY", "MOLDING": "HALF", "MIXING": "ADH-MIX",
    }.items():  # fmt: skip
        plan(plan=BatchPlan(item_code=item, planned_base=100, code=code), stamp=stamp_at(shop))
        start_batch(batch_code=code, stamp=stamp_at(shop))
    for code in ("PLANNED", "IDLE"):
        plan(plan=BatchPlan(item_code="BODY", planned_base=100, code=code), stamp=stamp_at(shop))
    hold_batch(batch_code="PAUSED", stamp=stamp_at(shop))
    ready_batch(batch_code="IDLE", stamp=stamp_at(shop))
    draft = EntryDraft(batch_code="GLUING", good=[GoodTally(10)])
    record(draft=draft, stamp=stamp_at(shop))


WORK = Kept(_make_work)


@pytest.fixture
def work(shop: User, people: dict[str, User]) -> dict[str, str]:
    """Batches in every state, lots in every state, and an entry of ten bodies."""
    WORK(shop=shop)
    return {"entry": Entry.objects.get().code}


def _make_odd_lots(*, shop: User) -> None:
    for code in ("HELD", "REJECTED", "OPENED"):
        stock(shop, "ADH-A", 1_000_000, lot_code=code)
    stock(shop, "ADH-A", 1_000_000, lot_code="OLD", expires_at=NOON)
    stock(shop, "ADH-A", 1_000_000, lot_code="WAITS", disposition="quarantined")
    stock(shop, "ADH-A", 1_000_000, lot_code="THEIRS", owner="A customer")
    stock(shop, "HALF", 5, lot_code="EMPTY")
    hold_lot(lot_code="HELD", stamp=stamp_at(shop))
    reject_lot(lot_code="REJECTED", stamp=stamp_at(shop))
    open_lot(lot_code="OPENED", stamp=stamp_at(shop))
    dispose_of_lot(lot_code="EMPTY", qty_base=5, stamp=stamp_at(shop, NOON + timedelta(hours=1)))


ODD_LOTS = Kept(_make_odd_lots)


@pytest.fixture
def odd_lots(shop: User, work: dict[str, str]) -> None:
    """Lots of adhesive that must not be used, by what they are; an empty one of halves."""
    ODD_LOTS(shop=shop)


@pytest.fixture
def client_of(people: dict[str, User]) -> Callable[[str], APIClient]:
    def client(role: str) -> APIClient:
        made = APIClient()
        made.force_authenticate(people[role])
        return made

    return client


@pytest.fixture
def send(client_of: Callable[[str], APIClient], work: dict[str, str]) -> Callable[..., Any]:
    """`send("batches/GLUING/start/", {...})`, as the owner unless told who."""

    def post(path: str, body: Any, *, who: str = "owner", key: str = "") -> Any:
        headers = {"Idempotency-Key": key or uuid4().hex}
        return client_of(who).post(API + path.format(**work), body, headers=headers)

    return post


@pytest.mark.parametrize("name", WRITES)
def test_a_good_call_does_it_and_tells(send: Callable[..., Any], name: str) -> None:
    door = WRITES[name]
    answer = send(door.path, door.body)
    assert (answer.status_code, door.tells(answer.json())) == (door.status, door.told)


@pytest.mark.parametrize("who", ROLES)
@pytest.mark.parametrize("name", WRITES)
def test_who_may_and_nobody_else(send: Callable[..., Any], name: str, who: str) -> None:
    door, before = WRITES[name], rows()
    answer = send(door.path, door.body, who=who)
    assert answer.status_code == (door.status if who in door.who else 403)
    assert who in door.who or rows() == before


@pytest.mark.parametrize("name", WRITES)
def test_the_same_key_does_it_once_and_answers_the_same(
    send: Callable[..., Any], name: str
) -> None:
    door = WRITES[name]
    first = send(door.path, door.body, key="k")
    after = rows()
    again = send(door.path, door.body, key="k")
    assert (again.status_code, again.json()) == (first.status_code, first.json())
    other = send("batches/", {"item": "BODY", "pieces": 1}, key="k")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")
    assert (rows(), RequestKey.objects.count()) == (after, 1)


def test_a_run_recorded_twice_with_one_key_takes_once(send: Callable[..., Any]) -> None:
    first = send("batches/GLUING/entries/", BODIES, key="tablet-7")
    again = send("batches/GLUING/entries/", BODIES, key="tablet-7")
    assert again.json() == first.json()
    assert (Entry.objects.count(), Lot.objects.get(code="HALVES").on_hand_base) == (2, 460)


def entry(*, lots: list[Any] | None = None, pieces: Any = 10, **more: Any) -> dict[str, Any]:
    return {"at": AT, "good": [{"pieces": pieces}], "lots": lots or [], **more}


def used(code: str, amount: str = "", unit: str = "g") -> list[dict[str, str]]:
    return [{"lot": code, "amount": amount, "unit": unit} if amount else {"lot": code}]


ENTRIES = "batches/GLUING/entries/"
REGRIND = [*used("RESIN-1", "37.4"), *used("REGRIND-1", "12.5")]

PROBLEMS: list[tuple[str, Any, int, str]] = [
    # Pieces and amounts that cannot be meant.
    (ENTRIES, entry(pieces=-1), 422, "invalid_input"),
    (ENTRIES, entry(pieces=0), 422, "invalid_input"),
    (ENTRIES, entry(pieces=1.5), 422, "invalid_input"),
    (ENTRIES, entry(pieces=3.0), 422, "invalid_input"),
    (ENTRIES, entry(pieces="ten"), 422, "invalid_input"),
    (ENTRIES, entry(pieces="NaN"), 422, "invalid_input"),
    (ENTRIES, entry(pieces=10**20), 422, "invalid_input"),
    (ENTRIES, {"at": AT}, 422, "nothing_recorded"),
    (ENTRIES, {"at": AT, "good": [{"grade": "first"}]}, 422, "invalid_input"),
    (ENTRIES, {"at": AT, "good": [{"amount": "1.5", "unit": "each"}]}, 422, "fraction_of_piece"),
    (ENTRIES, {"at": AT, "good": [{"amount": "0", "unit": "each"}]}, 422, "nothing_recorded"),
    (ENTRIES, {"at": AT, "good": [{"amount": "5", "unit": "kg"}]}, 422, "unit_mismatch"),
    (ENTRIES, {"at": AT, "good": [{"pieces": 1, "grade": "third"}]}, 422, "invalid_input"),
    ("batches/MIXING/entries/", entry(pieces=20_000), 422, "unit_mismatch"),
    (ENTRIES, entry(lots=used("GLUE", "-1")), 422, "invalid_input"),
    (ENTRIES, entry(lots=used("GLUE", "0")), 422, "nothing_to_do"),
    (ENTRIES, entry(lots=used("GLUE", "9" * 20)), 422, "invalid_input"),
    (ENTRIES, entry(lots=used("GLUE", "1", "each")), 422, "unit_mismatch"),
    (ENTRIES, entry(lots=used("HALVES", "2.5", "each")), 422, "fraction_of_piece"),
    (ENTRIES, entry(lots=[{"lot": "GLUE", "amount": "1"}]), 422, "invalid_input"),
    # Lots that must not be used.
    (ENTRIES, entry(lots=used("NONE")), 404, "not_found"),
    (ENTRIES, entry(lots=used("HELD")), 409, "lot_held"),
    (ENTRIES, entry(lots=used("HELD"), override_reason="please"), 409, "lot_held"),
    (ENTRIES, entry(lots=used("OLD")), 409, "lot_expired"),
    (ENTRIES, entry(lots=used("WAITS")), 409, "lot_quarantined"),
    (ENTRIES, entry(lots=used("REJECTED")), 409, "lot_rejected"),
    (ENTRIES, entry(lots=used("OPENED")), 409, "lot_over_opened"),
    (ENTRIES, entry(lots=used("THEIRS")), 409, "lot_not_ours"),
    (ENTRIES, entry(lots=used("EMPTY")), 409, "scanned_not_taken"),
    (ENTRIES, entry(lots=used("EMPTY", "20", "each")), 409, "lot_short"),
    (ENTRIES, entry(lots=used("HALVES", "481", "each")), 409, "lot_short"),
    (ENTRIES, entry(pieces=241), 409, "material_short"),
    (ENTRIES, entry(lots=used("RESIN-1")), 409, "lot_not_in_bill"),
    (ENTRIES, entry(lots=[*used("GLUE"), *used("GLUE", "1")]), 422, "named_twice"),
    ("batches/MOLDING/entries/", entry(lots=REGRIND), 409, "share_exceeded"),
    # Names, times, reasons.
    (ENTRIES, entry(scrap=[{"pieces": 1, "scrap_reason": "NONE"}]), 404, "not_found"),
    (ENTRIES, entry(scrap=[{"pieces": 1, "scrap_reason": "SHORT"}]), 422, "scrap_reason_elsewhere"),
    (ENTRIES, entry(equipment=["WHEEL-9"]), 404, "not_found"),
    (ENTRIES, entry(equipment=["WHEEL-1", "wheel-1"]), 422, "invalid_input"),
    (ENTRIES, entry(done_by="nobody"), 404, "not_found"),
    (ENTRIES, entry(factors=[{"name": "shift", "value": str(n)} for n in range(2)]), 422,
     "invalid_input"),
    (ENTRIES, entry(by_products=[{"item": "RESIN", "amount": "1", "unit": "g"}]), 422,
     "not_a_by_product"),
    (ENTRIES, {**entry(), "at": "2099-01-01T00:00:00Z"}, 422, "time_in_future"),
    (ENTRIES, {**entry(lots=used("GLUE", "1")), "at": "2026-03-01T00:00:00Z"}, 409,
     "material_short"),
    (ENTRIES, {**entry(lots=[*used("GLUE", "1"), *used("HALVES", "20", "each")]),
               "at": "2026-03-01T00:00:00Z"}, 409, "lot_not_there_yet"),
    (ENTRIES, {**entry(), "color": "red"}, 422, "invalid_input"),
    (ENTRIES, [entry()], 422, "invalid_input"),
    # States.
    ("batches/NONE/entries/", entry(), 404, "not_found"),
    ("batches/PLANNED/entries/", entry(), 409, "wrong_batch_state"),
    ("batches/PAUSED/entries/", entry(), 409, "wrong_batch_state"),
    ("batches/PAUSED/start/", WHY, 409, "wrong_batch_state"),
    ("batches/MIXING/complete/", WHY, 409, "wrong_batch_state"),
    ("batches/GLUING/hold/", {"at": AT}, 422, "reason_missing"),
    ("batches/GLUING/abort/", {"at": AT}, 422, "reason_missing"),
    ("entries/{entry}/reverse/", {"at": AT}, 422, "reason_missing"),
    ("entries/{entry}/reverse/", {"at": "2026-03-01T00:00:00Z", "reason": "r"}, 422, "too_early"),
    ("entries/E-2222/reverse/", WHY, 422, "code_typo"),
    # Plans.
    ("batches/", {"item": "BODY", "pieces": 0}, 422, "invalid_input"),
    ("batches/", {"item": "BODY", "amount": "0", "unit": "each"}, 422, "invalid_input"),
    ("batches/", {"item": "BODY", "amount": "9" * 14, "unit": "gross"}, 422, "amount_too_large"),
    ("batches/", {"item": "ADH-MIX", "pieces": 100}, 422, "unit_mismatch"),
    ("batches/", {"item": "NONE", "pieces": 1}, 404, "not_found"),
    ("batches/", {"item": "RESIN", "amount": "1", "unit": "g"}, 404, "not_found"),
    ("batches/", {"item": "BODY", "pieces": 1, "revision": 2}, 409, "revision_not_current"),
    ("batches/", {"item": "BODY", "pieces": 1, "code": "GLUING"}, 409, "duplicate_code"),
    ("batches/", {"item": "BODY", "pieces": 1, "code": "B-1"}, 422, "own_code_refused"),
    ("batches/", {"item": "BODY", "pieces": 1, "rework_stage": "NONE"}, 404, "not_found"),
    ("scrap-reasons/", {"code": "LEAK", "name": "Leaks"}, 409, "duplicate_code"),
    ("scrap-reasons/", {"code": "DUST", "name": "Dust", "stage": "NONE"}, 404, "not_found"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "body", "status", "code"), PROBLEMS)
def test_what_cannot_be_is_refused_by_its_name_and_writes_nothing(
    send: Callable[..., Any], odd_lots: None, path: str, body: Any, status: int, code: str
) -> None:
    before = rows()
    answer = send(path, body)
    assert (answer.status_code, answer.json().get("code")) == (status, code), answer.json()
    assert answer["Content-Type"] == "application/problem+json"
    assert (rows(), RequestKey.objects.count()) == (before, 0)


@pytest.mark.parametrize("lot", ["OLD", "OPENED"])
def test_only_a_lead_uses_what_is_too_old_and_says_why(
    send: Callable[..., Any], odd_lots: None, lot: str
) -> None:
    body = entry(lots=used(lot), override_reason="tested today")
    refused = send(ENTRIES, body, who="bench")
    assert (refused.status_code, refused.json()["code"]) == (403, "override_not_allowed")
    assert send(ENTRIES, body, who="lead").status_code == 201
