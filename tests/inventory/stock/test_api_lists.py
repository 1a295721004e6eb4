"""Lists of the ledger: as many statements for a hundred rows as for one, pages that are capped."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.catalog.models import Item
from inventory.stock.models import Lot
from inventory.stock.operations import (
    Found,
    OpeningLot,
    count_lots,
    dispose_of_lot,
    hold_lot,
    release_hold,
    split_off,
    take_in_opening_lots,
)
from shopfloor.doors.lists import PAGE_SIZE_MAX
from shopfloor.models import User
from tests.inventory.stock.conftest import NOON, stamp_at

API = "/api/v1/"
LISTS = ["lots/", "holds/", "postings/", "counts/"]
HOUR = timedelta(hours=1)


@pytest.fixture
def get(lead: User) -> Callable[..., Any]:
    """`get("lots/", item="HOOK-6")`."""
    client = APIClient()
    client.force_authenticate(lead)
    return lambda path, **asked: client.get(API + path, asked)


@pytest.fixture
def busy(hook: Item, lead: User) -> Callable[[int], list[Lot]]:
    """So many lots, each counted, disposed of in part, held and released."""

    def lots(number: int) -> list[Lot]:
        opening = OpeningLot(item_code=hook.code, qty_base=10, value_micro=7)
        made = take_in_opening_lots(lots=[opening] * number, stamp=stamp_at(lead, NOON)).made
        for at, lot in enumerate(made):
            stamp = stamp_at(lead, NOON + timedelta(minutes=at))
            count_lots(found=[Found(lot.code, 9)], stamp=stamp)
            dispose_of_lot(lot_code=lot.code, qty_base=1, stamp=stamp)
            hold = hold_lot(lot_code=lot.code, stamp=stamp)
            release_hold(hold_code=hold.code, stamp=stamp)
        return made

    return lots


def statements(call: Callable[[], Any]) -> tuple[int, Any]:
    with CaptureQueriesContext(connection) as seen:
        answer = call()
    assert answer.status_code == 200
    return len(seen), answer.json()


def test_a_list_takes_as_many_statements_for_a_hundred_rows_as_for_one(
    get: Callable[..., Any], busy: Callable[[int], list[Lot]]
) -> None:
    def of_each_list() -> dict[str, int]:
        def asking(path: str) -> Callable[[], Any]:
            return lambda: get(path, page_size=200)

        return {path: statements(asking(path))[0] for path in LISTS}

    busy(1)
    of_one = of_each_list()
    busy(9)
    of_ten = of_each_list()
    busy(90)
    assert of_each_list() == of_ten == of_one
    assert max(of_one.values()) <= 4
    assert get("holds/", page_size=200).json()["count"] == 100


def test_the_preview_of_a_count_takes_as_many_statements_for_a_hundred_lots_as_for_one(
    hook: Item, lead: User
) -> None:
    client = APIClient()
    client.force_authenticate(lead)
    opening = OpeningLot(item_code=hook.code, qty_base=10, value_micro=70)
    lots = take_in_opening_lots(lots=[opening] * 100, stamp=stamp_at(lead, NOON)).made
    for lot in lots:
        dispose_of_lot(lot_code=lot.code, qty_base=10, stamp=stamp_at(lead, NOON))

    def preview(lots: list[Lot]) -> int:
        lines = [{"lot": lot.code, "found": {"amount": "9", "unit": "each"}} for lot in lots]
        path = API + "counts/preview/"
        seen, answer = statements(lambda: client.post(path, {"lines": lines}, format="json"))
        assert {row["value"] for row in answer["lines"]} == {"0.000063"}
        return seen

    assert preview(lots[:1]) == preview(lots) <= 3


def test_the_preview_says_what_the_count_will_post(
    get: Callable[..., Any], lot_of_500_hooks: Lot, lead: User
) -> None:
    client = APIClient()
    client.force_authenticate(lead)
    body = {
        "lines": [{"lot": lot_of_500_hooks.code, "found": {"amount": "490", "unit": "each"}}],
        "reason": "counted",
    }
    preview = client.post(API + "counts/preview/", body, format="json").json()["lines"]
    assert get("counts/").json()["results"] == []
    posted = client.post(
        API + "counts/", body, format="json", headers={"Idempotency-Key": "k"}
    ).json()
    assert preview == posted["lines"]
    assert preview[0]["value"] == "-0.20"


@pytest.mark.parametrize("path", LISTS)
def test_a_page_is_capped_and_one_that_is_not_there_is_not_found(
    get: Callable[..., Any], busy: Callable[[int], list[Lot]], path: str
) -> None:
    busy(3)
    answer = get(path, page_size=10**9)
    assert len(answer.json()["results"]) == answer.json()["count"] <= PAGE_SIZE_MAX
    assert get(path, page=10**9).status_code == 404
    assert get(path, page="x").status_code == 404
    assert get(path, colour="red").json()["code"] == "unknown_parameter"


def test_a_huge_page_of_many_lots_is_cut(get: Callable[..., Any], hook: Item, lead: User) -> None:
    opening = OpeningLot(item_code=hook.code, qty_base=10, value_micro=7)
    take_in_opening_lots(lots=[opening] * (PAGE_SIZE_MAX + 1), stamp=stamp_at(lead, NOON))
    answer = get("lots/", page_size=10**9).json()
    assert (answer["count"], len(answer["results"])) == (PAGE_SIZE_MAX + 1, PAGE_SIZE_MAX)


@pytest.mark.parametrize(
    ("path", "asked", "found"),
    [
        ("lots/", {"is_on_hand": "false"}, ["EMPTY"]),
        ("lots/", {"disposition": "held"}, ["BAG", "BAG.1"]),
        ("lots/", {"item": "hook-6", "search": "bag"}, ["BAG", "BAG.1"]),
        ("lots/", {"ordering": "-on_hand_base"}, ["BAG", "BAG.1", "EMPTY"]),
        ("lots/", {"expires_before": "2026-01-01T00:00:00Z"}, []),
    ],
)
def test_lots_are_found_by_what_they_are(
    get: Callable[..., Any], hook: Item, lead: User, path: str, asked: dict[str, str],
    found: list[str],
) -> None:  # fmt: skip
    stamp = stamp_at(lead, NOON)
    opening = [
        OpeningLot(item_code=hook.code, qty_base=10, value_micro=0, lot_code=code)
        for code in ("BAG", "EMPTY")
    ]
    take_in_opening_lots(lots=opening, stamp=stamp)
    dispose_of_lot(lot_code="EMPTY", qty_base=10, stamp=stamp)
    split_off(lot_code="BAG", qty_base=3, stamp=stamp)
    hold_lot(lot_code="BAG", stamp=stamp)
    assert [row["code"] for row in get(path, **asked).json()["results"]] == found


def test_a_lot_a_posting_and_what_happened_are_read_by_their_codes(
    get: Callable[..., Any], lot_of_500_hooks: Lot, lead: User
) -> None:
    posted = dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON))
    page = get(f"lots/{lot_of_500_hooks.code.lower()}/").json()
    assert page["lot"]["on_hand"] == {"amount": "499", "unit": "each"}
    assert [line["kind"] for line in page["history"]] == ["disposed", "adjusted"]
    posting = get(f"postings/{posted.posting.code}/").json()
    assert posting["movements"][0]["value"] == "-0.02"
    assert get("lots/NONE/").status_code == 404
    assert get("postings/P-2222/").json()["code"] == "code_typo"
    assert get("lots/%00/").status_code == 400
