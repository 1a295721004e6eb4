"""Every door of the ledger: a good call, who may come in, once a key, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import (
    Found,
    OpeningLot,
    count_lots,
    hold_lot,
    take_in_opening_lots,
)
from shopfloor.models import RequestKey, User
from tests.inventory.stock.conftest import NOON, stamp_at
from tests.inventory.stock.machine import rows

API = "/api/v1/"
AT = "2026-03-03T12:00:00Z"
WHY: dict[str, Any] = {"at": AT, "reason": "because"}

OWNER = {"owner"}
LEADS = OWNER | {"lead"}
BENCHES = LEADS | {"molder"}
WRITERS = BENCHES | {"packer"}
ANYONE = WRITERS | {"viewer"}


class Door(NamedTuple):
    """A write: where, who may, a good body, its status, and what of the answer tells."""

    path: str
    who: set[str]
    body: dict[str, Any]
    status: int
    tells: Callable[[Any], object]
    told: object


WRITES = {
    "split": Door(
        "lots/GLUE/split/", WRITERS, {"amount": "200", "unit": "g", **WHY}, 201,
        lambda a: (a["code"], a["on_hand"]["amount"], a["value"]), ("GLUE.1", "200", "10.00"),
    ),
    "move": Door(
        "lots/glue/move/", WRITERS, {"place": "bench", **WHY}, 200,
        lambda a: (a["code"], a["place"]), ("GLUE", "BENCH"),
    ),
    "move a part": Door(
        "lots/GLUE/move/", WRITERS, {"place": "BENCH", "amount": "1", "unit": "kg", **WHY}, 200,
        lambda a: (a["code"], a["place"]), ("GLUE", "BENCH"),
    ),
    "open": Door(
        "lots/GLUE/open/", BENCHES, WHY, 200, lambda a: a["discard_at"], "2026-03-03T13:00:00Z"
    ),
    "hold": Door(
        "lots/GLUE/hold/", WRITERS, WHY, 201, lambda a: (a["hold"]["lot"], a["hold"]["reason"]),
        ("GLUE", "because"),
    ),
    "release": Door(
        "lots/NEW/release/", LEADS, WHY, 200, lambda a: a["disposition"], "released"
    ),
    "reject": Door("lots/GLUE/reject/", LEADS, WHY, 200, lambda a: a["disposition"], "rejected"),
    "extend": Door(
        "lots/NEW/extend-expiry/", LEADS, {"expires_at": "2026-09-01T00:00:00Z", **WHY}, 200,
        lambda a: a["expires_at"], "2026-09-01T00:00:00Z",
    ),
    "dispose": Door(
        "lots/GLUE/dispose/", LEADS, {"amount": "1", "unit": "kg", **WHY}, 201,
        lambda a: (a["kind"], a["outside_kind"], a["outside_value"]),
        ("disposed", "loss", "-50.00"),
    ),
    "adjust": Door(
        "lots/GLUE/adjust/", LEADS, {"amount": "-1", "unit": "kg", **WHY}, 201,
        lambda a: (a["kind"], a["outside_kind"], a["outside_value"]),
        ("adjusted", "adjustment", "-50.00"),
    ),
    "revalue": Door(
        "lots/GLUE/revalue/", OWNER, {"value": "-0.000001", "document": "INV-7", **WHY}, 201,
        lambda a: (a["outside_value"], a["document_kind"], a["document_code"]),
        ("-0.000001", "invoice", "INV-7"),
    ),
    "count": Door(
        "counts/", WRITERS,
        {"lines": [{"lot": "GLUE", "found": {"amount": "0.9", "unit": "kg"}}], **WHY}, 201,
        lambda a: (a["value"], a["lines"][0]["difference"]["amount"]), ("-5.00", "-100"),
    ),
    "count by weight": Door(
        "counts/", WRITERS,
        {
            "lines": [
                {
                    "lot": "GLUE",
                    "gross": {"amount": "1.5", "unit": "kg"},
                    "tare": {"amount": "300", "unit": "g"},
                    "expected": {"amount": "1", "unit": "kg"},
                }
            ],
            **WHY,
        },
        201, lambda a: (a["value"], a["lines"][0]["found"]["amount"]), ("10.00", "1200"),
    ),
    "undo a count": Door(
        "counts/{count}/reverse/", WRITERS, WHY, 200,
        lambda a: (a["value"], a["reversed_by"] is None), ("0.00", False),
    ),
    "end a hold": Door(
        "holds/{hold}/release/", LEADS, WHY, 200, lambda a: [lot["code"] for lot in a["freed"]],
        ["HELD"],
    ),
    "close the books": Door(
        "books-closings/", OWNER, {"through": "2026-02-28", "reason": "year"}, 201,
        lambda a: a, {"through": "2026-02-28"},
    ),
}  # fmt: skip


@pytest.fixture
def lots(adhesive: Item, bench: Place, lead: User) -> dict[str, str]:
    """A kilogram worth 50.00; one that waits; one that is held; the codes of its hold and count."""
    opening = [
        OpeningLot(item_code="ADH", qty_base=1_000_000, value_micro=50_000_000, lot_code="GLUE"),
        OpeningLot(
            item_code="ADH",
            qty_base=1_000_000,
            value_micro=0,
            lot_code="NEW",
            disposition="quarantined",
            expires_at=NOON,
        ),
        OpeningLot(item_code="ADH", qty_base=1_000_000, value_micro=0, lot_code="HELD"),
    ]
    take_in_opening_lots(lots=opening, stamp=stamp_at(lead, NOON))
    stamp = stamp_at(lead, NOON)
    count = count_lots(found=[Found("HELD", 999_999)], stamp=stamp)
    return {"hold": hold_lot(lot_code="HELD", stamp=stamp).code, "count": count.code}


@pytest.fixture
def hooks(hook: Item, lead: User) -> None:
    """Thirty hooks."""
    opening = OpeningLot(item_code=hook.code, qty_base=30, value_micro=0, lot_code="HOOKS")
    take_in_opening_lots(lots=[opening], stamp=stamp_at(lead, NOON))


@pytest.fixture
def client_of(
    owner: User, lead: User, molder: User, packer: User, viewer: User
) -> Callable[[str], APIClient]:
    """A client that comes in as one of the people, by the names of their fixtures."""
    people = {"owner": owner, "lead": lead, "molder": molder, "packer": packer, "viewer": viewer}

    def client(name: str) -> APIClient:
        made = APIClient()
        made.force_authenticate(people[name])
        return made

    return client


@pytest.fixture
def send(client_of: Callable[[str], APIClient], lots: dict[str, str]) -> Callable[..., Any]:
    """`send("lots/GLUE/hold/", {...})`, as the owner unless told who."""

    def post(path: str, body: Any, *, who: str = "owner", key: str = "") -> Any:
        headers = {"Idempotency-Key": key or uuid4().hex}
        return client_of(who).post(API + path.format(**lots), body, headers=headers)

    return post


@pytest.mark.parametrize("name", WRITES)
def test_a_good_call_does_it_and_tells(send: Callable[..., Any], name: str) -> None:
    door = WRITES[name]
    answer = send(door.path, door.body)
    assert (answer.status_code, door.tells(answer.json())) == (door.status, door.told)


@pytest.mark.parametrize("who", sorted(ANYONE))
@pytest.mark.parametrize("name", WRITES)
def test_who_may_and_nobody_else(send: Callable[..., Any], name: str, who: str) -> None:
    door, before = WRITES[name], rows()
    answer = send(door.path, door.body, who=who)
    expected = (door.status, True) if who in door.who else (403, False)
    assert (answer.status_code, rows() != before or answer.status_code == 200) == expected


@pytest.mark.parametrize("name", WRITES)
def test_the_same_key_does_it_once_and_answers_the_same(
    send: Callable[..., Any], name: str
) -> None:
    door = WRITES[name]
    first = send(door.path, door.body, key="k")
    after = rows()
    again = send(door.path, door.body, key="k")
    assert (again.status_code, again.json()) == (first.status_code, first.json())
    assert rows() == after
    other = send(door.path, {**door.body, "reason": "another"}, key="k")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")
    assert (rows(), RequestKey.objects.count()) == (after, 1)


@pytest.mark.parametrize("name", WRITES)
def test_without_a_key_nothing_is_written(
    client_of: Callable[[str], APIClient], lots: dict[str, str], name: str
) -> None:
    door, before = WRITES[name], rows()
    answer = client_of("owner").post(API + door.path.format(**lots), door.body)
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_missing")
    assert rows() == before


ONE_KG = {"amount": "1", "unit": "kg"}
FOUND = {"lot": "GLUE", "found": ONE_KG}

PROBLEMS: list[tuple[str, Any, int, str]] = [
    # Amounts that cannot be meant.
    ("lots/GLUE/split/", {"amount": "-1", "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "0", "unit": "kg"}, 422, "nothing_to_do"),
    ("lots/GLUE/dispose/", {"amount": "0.0001", "unit": "mg", **WHY}, 422, "nothing_to_do"),
    ("lots/GLUE/adjust/", {"amount": "0", "unit": "kg", **WHY}, 422, "nothing_to_do"),
    ("lots/GLUE/split/", {"amount": "some", "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "NaN", "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "Infinity", "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "9" * 20, "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "9" * 14, "unit": "kg"}, 422, "amount_too_large"),
    ("lots/GLUE/split/", {"amount": None, "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": True, "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": ["1"], "unit": "kg"}, 422, "invalid_input"),
    ("lots/GLUE/open/", {"amount": "0", "unit": "kg"}, 422, "nothing_to_do"),
    ("lots/HOOKS/split/", {"amount": "1.5", "unit": "each"}, 422, "fraction_of_piece"),
    ("lots/GLUE/split/", {"amount": "1", "unit": "each"}, 422, "unit_mismatch"),
    ("lots/GLUE/split/", {"amount": "1", "unit": "mL"}, 422, "unit_mismatch"),
    ("lots/GLUE/split/", {"amount": "1", "unit": "stone"}, 422, "invalid_input"),
    ("lots/GLUE/split/", {"amount": "1"}, 422, "invalid_input"),
    ("lots/GLUE/move/", {"amount": "1", "place": "BENCH"}, 422, "invalid_input"),
    ("lots/GLUE/revalue/", {"value": "some", **WHY}, 422, "number_unreadable"),
    ("lots/GLUE/revalue/", {"value": "0.0000001", **WHY}, 422, "number_too_precise"),
    ("lots/GLUE/revalue/", {"value": "0", **WHY}, 422, "nothing_to_do"),
    ("lots/GLUE/revalue/", {"value": "-50.01", **WHY}, 422, "invalid_input"),
    # Lots and places that are not there, or not so.
    ("lots/NONE/split/", ONE_KG, 404, "not_found"),
    ("lots/NONE/hold/", WHY, 404, "not_found"),
    ("lots/GLUE/move/", {"place": "NOWHERE"}, 404, "not_found"),
    ("lots/GLUE/move/", {"place": "SHELF-A"}, 422, "nothing_to_do"),
    ("lots/GLUE/split/", {"amount": "1.000001", "unit": "kg"}, 409, "lot_short"),
    ("lots/GLUE/dispose/", {"amount": "1.000001", "unit": "kg", **WHY}, 409, "lot_short"),
    ("lots/GLUE/adjust/", {"amount": "-1.000001", "unit": "kg", **WHY}, 409, "lot_short"),
    ("lots/GLUE/release/", WHY, 409, "wrong_disposition"),
    ("lots/GLUE/extend-expiry/", {"expires_at": AT, **WHY}, 422, "invalid_input"),
    ("holds/H-2222/release/", WHY, 422, "code_typo"),
    ("holds/{hold}/release/", {"at": "2026-03-01T12:00:00Z", "reason": "r"}, 422, "too_early"),
    # Times and reasons.
    ("lots/GLUE/split/", {**ONE_KG, "at": "2099-01-01T00:00:00Z"}, 422, "time_in_future"),
    ("lots/GLUE/dispose/", {**ONE_KG, "at": "2026-03-01T00:00:00Z", "reason": "r"}, 409,
     "lot_not_there_yet"),
    ("lots/GLUE/hold/", {"at": "2026-03-01T00:00:00Z", "reason": "r"}, 409, "lot_not_there_yet"),
    ("lots/GLUE/split/", {**ONE_KG, "at": "2026-03-03 12:00"}, 422, "invalid_input"),
    ("lots/GLUE/hold/", {"reason": " "}, 422, "reason_missing"),
    ("lots/GLUE/dispose/", ONE_KG, 422, "reason_missing"),
    ("lots/GLUE/hold/", {"reason": "x" * 301}, 422, "invalid_input"),
    ("books-closings/", {"through": "2099-01-01"}, 422, "invalid_input"),
    ("books-closings/", {"through": "2026-02-30"}, 422, "invalid_input"),
    # Counts.
    ("counts/", {"lines": [], **WHY}, 422, "invalid_input"),
    ("counts/", {"lines": [{"lot": "GLUE"}], **WHY}, 422, "invalid_input"),
    ("counts/", {"lines": [{**FOUND, "gross": ONE_KG}], **WHY}, 422, "invalid_input"),
    ("counts/", {"lines": [{**FOUND, "tare": ONE_KG}], **WHY}, 422, "invalid_input"),
    ("counts/", {"lines": [FOUND, FOUND], **WHY}, 422, "invalid_input"),
    ("counts/", {"lines": [{**FOUND, "lot": "NONE"}], **WHY}, 404, "not_found"),
    ("counts/", {"lines": [{**FOUND, "expected": {"amount": "2", "unit": "kg"}}], **WHY}, 409,
     "count_changed"),
    ("counts/", {"lines": [{"lot": "GLUE", "found": {"amount": "2", "unit": "kg"}}]}, 422,
     "reason_missing"),
    ("counts/", {"lines": [{"lot": "GLUE", "gross": {"amount": "1", "unit": "kg"},
                            "tare": {"amount": "2", "unit": "kg"}}], **WHY}, 422,
     "tare_above_gross"),
    ("counts/", {"lines": [FOUND] * 501, **WHY}, 422, "invalid_input"),
    # Bodies that are no such thing.
    ("lots/GLUE/hold/", ["reason"], 422, "invalid_input"),
    ("lots/GLUE/hold/", {**WHY, "color": "red"}, 422, "invalid_input"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "body", "status", "code"), PROBLEMS)
def test_what_cannot_be_is_refused_by_its_name_and_writes_nothing(
    send: Callable[..., Any], hooks: None, path: str, body: Any, status: int, code: str
) -> None:
    before = rows()
    answer = send(path, body)
    assert answer["Content-Type"] == "application/problem+json"
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert (rows(), RequestKey.objects.count()) == (before, 0)


@pytest.mark.parametrize(
    ("content", "kind", "status", "code"),
    [
        ('{"reason": ', "application/json", 400, "malformed_body"),
        ('{"reason": NaN}', "application/json", 400, "malformed_body"),
        ('{"reason": "a", "reason": "b"}', "application/json", 400, "malformed_body"),
        ("reason=because", "application/x-www-form-urlencoded", 415, "unsupported_media_type"),
        ("because", "text/plain", 415, "unsupported_media_type"),
    ],
)
def test_a_body_that_is_not_json_is_refused(
    client_of: Callable[[str], APIClient], lots: None, content: str, kind: str, status: int,
    code: str,
) -> None:  # fmt: skip
    before = rows()
    answer = client_of("owner").post(
        f"{API}lots/GLUE/hold/", content, content_type=kind, headers={"Idempotency-Key": "k"}
    )
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert rows() == before


def test_what_a_hold_stops_is_said_and_a_rejected_lot_is_not_held(send: Callable[..., Any]) -> None:
    send("lots/GLUE/split/", {"amount": "200", "unit": "g", **WHY})
    held = send("lots/GLUE/hold/", WHY).json()
    assert {row["code"] for row in held["lots"]} == {"GLUE", "GLUE.1"}
    send("lots/NEW/reject/", WHY)
    assert send("lots/NEW/hold/", WHY).json()["code"] == "wrong_disposition"
    assert Posting.objects.count() == 3, "what was there, the count, the split"
    assert Lot.objects.filter(disposition="held").count() == 3
