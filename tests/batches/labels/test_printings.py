"""The record of printing: who had what printed on what, and that a reprint says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
from rest_framework.test import APIClient

from batches.labels.models import PrintedPaper, Printing
from batches.labels.operations import note_printing
from batches.labels.selectors import print_job
from inventory.stock.models import Lot
from inventory.stock.operations import (
    OpeningLot,
    hold_lot,
    release_hold,
    take_in_opening_lots,
)
from shopfloor.days import shop_day
from shopfloor.models import User
from shopfloor.operations import create_person, issue_token
from shopfloor.roles import Role
from tests.batches.labels.conftest import MONDAY, stamp_at, words
from tests.needs import need_threads
from tests.racing import at_once, codes

StockOf = Callable[..., Lot]
ADDRESS = "/api/v1/printings/"


@pytest.fixture
def two_lots(stock_of: StockOf) -> None:
    """A1 and A2."""
    for code in ("A1", "A2"):
        stock_of(f"ITEM-{code}", lot_code=code)


def printed(api: APIClient, key: str, status: int = 201, **body: Any) -> Any:
    answer = api.post(
        ADDRESS, {"kind": "lots", **body}, format="json", headers={"Idempotency-Key": key}
    )
    assert answer.status_code == status, answer.content
    return answer.json()


@pytest.mark.usefixtures("two_lots")
def test_who_printed_what_on_what_is_kept_and_the_file_is_what_was_asked(api: APIClient) -> None:
    told = printed(api, "k1", codes=["a2", "A1", "A2"], copies=2, stock="4x2", dpi=300)
    assert told["code"].startswith("J-")
    assert {name: told[name] for name in ("kind", "title", "stock", "dpi", "copies", "by")} == {
        "kind": "lots",
        "title": "Lot sticker",
        "stock": "4x2",
        "dpi": 300,
        "copies": 2,
        "by": "olga",
    }
    assert told["papers"] == [{"code": "A2", "reprint": 0}, {"code": "A1", "reprint": 0}]
    assert api.get(f"{ADDRESS}{told['code'].lower()}/").json() == told
    file = api.get(f"{ADDRESS}{told['code']}.pdf")
    assert file["Content-Type"] == "application/pdf"
    pages = [words(file.content, page) for page in range(4)]
    assert ["A2" in page for page in pages] == [True, True, False, False]
    assert len(pypdfium2.PdfDocument(file.content)) == 4
    assert not any("Reprint" in page for page in pages)


@pytest.mark.usefixtures("two_lots")
def test_a_reprint_says_so_and_looking_at_the_file_again_is_none(api: APIClient) -> None:
    first = printed(api, "k1", codes=["A1"])
    again = printed(api, "k2", codes=["A1", "A2"])
    third = printed(api, "k3", codes=["A1"])
    assert again["papers"] == [{"code": "A1", "reprint": 1}, {"code": "A2", "reprint": 0}]
    assert third["papers"] == [{"code": "A1", "reprint": 2}]
    for _ in range(2):
        assert "Reprint" not in words(api.get(f"{ADDRESS}{first['code']}.pdf").content)
    pdf = api.get(f"{ADDRESS}{again['code']}.pdf").content
    day = shop_day(Printing.objects.order_by("pk")[1].at)
    assert f"Reprint 1, {day}" in words(pdf, 0)
    assert "Reprint" not in words(pdf, 1)
    assert "Reprint 2" in words(api.get(f"{ADDRESS}{third['code']}.pdf").content)


@pytest.mark.usefixtures("two_lots")
def test_the_same_key_prints_once(api: APIClient) -> None:
    assert printed(api, "k1", codes=["A1"]) == printed(api, "k1", codes=["A1"])
    assert Printing.objects.count() == PrintedPaper.objects.count() == 1


@pytest.mark.usefixtures("two_lots")
def test_the_same_key_has_its_answer_when_the_paper_can_no_longer_be_drawn(
    api: APIClient, owner: User
) -> None:
    hold = hold_lot(lot_code="A1", stamp=stamp_at(owner))
    first = printed(api, "k1", codes=["A1"], kind="holds")
    release_hold(hold_code=hold.code, stamp=stamp_at(owner))
    assert printed(api, "k1", codes=["A1"], kind="holds") == first
    assert printed(api, "k2", 409, codes=["A1"], kind="holds")["code"] == "not_on_hold"
    reused = printed(api, "k1", 422, codes=["A2"], kind="holds")
    assert reused["code"] == "idempotency_key_reused"


@pytest.mark.usefixtures("two_lots")
def test_its_code_scans(api: APIClient) -> None:
    code = printed(api, "k1", codes=["A1"])["code"]
    told = api.get("/api/v1/scan/", {"code": code.lower()}).json()
    assert (told["kind"], told["code"]) == ("printing", code)
    assert api.get(told["address"]).json()["code"] == code


@pytest.mark.usefixtures("two_lots")
@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"codes": ["A1", "NONE"]}, 404, "not_found"),
        ({"codes": ["A1"], "stock": "7x7"}, 422, "stock_unknown"),
        ({"codes": ["A1"], "stock": "letter-30", "start": 31}, 422, "start_off_sheet"),
        ({"codes": ["A1"], "kind": "batches", "stock": "2x1"}, 404, "not_found"),
        ({"codes": ["A1"], "kind": "holds"}, 409, "not_on_hold"),
        ({"codes": []}, 422, "invalid_input"),
        ({"codes": ["A1"], "copies": 0}, 422, "invalid_input"),
        ({"codes": ["A1"], "copies": 10_001}, 422, "invalid_input"),
        ({"codes": ["A1"], "copies": 100_001}, 422, "invalid_input"),
        ({"codes": ["A1", "A2"], "copies": 5_001}, 422, "invalid_input"),
        ({"codes": ["A1"] * 100_001}, 422, "invalid_input"),
        ({"codes": ["A1"], "kind": "posters"}, 422, "invalid_input"),
        ({"codes": ["A1"], "dpi": 204}, 422, "invalid_input"),
    ],
)
def test_what_cannot_be_printed_is_refused_and_not_kept(
    api: APIClient, body: dict[str, Any], status: int, code: str
) -> None:
    assert printed(api, "k1", status, **body)["code"] == code
    assert not Printing.objects.exists()


@pytest.mark.usefixtures("two_lots")
def test_the_list_is_by_paper_kind_and_person(api: APIClient, owner: User) -> None:
    hold_lot(lot_code="A1", stamp=stamp_at(owner))
    lots = printed(api, "k1", codes=["A1", "A2"])
    tag = printed(api, "k2", codes=["A1"], kind="holds")

    def listed(query: str) -> list[str]:
        return [row["code"] for row in api.get(f"{ADDRESS}?{query}").json()["results"]]

    assert listed("") == [tag["code"], lots["code"]]
    assert listed("paper=a2") == [lots["code"]]
    assert listed("kind=holds&by=olga") == [tag["code"]]
    assert listed("by=nobody") == []
    assert api.get(f"{ADDRESS}L-2227/").status_code in {404, 422}


@pytest.mark.usefixtures("two_lots")
def test_ten_thousand_labels_are_one_printing_and_more_say_how_to_split(api: APIClient) -> None:
    assert printed(api, "k1", codes=["A1", "A2"], copies=5_000)["copies"] == 5_000
    detail = printed(api, "k2", 422, codes=["A1", "A2"], copies=5_001)["detail"]
    assert "10,002 labels; one file takes 10,000. Split them: print at most 1 code" in detail


def test_a_list_of_printings_has_the_first_papers_and_how_many_there_are(
    api: APIClient, owner: User, stock_of: StockOf
) -> None:
    stock_of("HOOK", lot_code="HOOK-0")
    lots = [
        OpeningLot(item_code="HOOK", qty_base=1, value_micro=0, lot_code=f"HOOK-{number}")
        for number in range(1, 101)
    ]
    take_in_opening_lots(lots=lots, stamp=stamp_at(owner, MONDAY))
    asked = [f"HOOK-{number}" for number in range(101)]
    told = printed(api, "k1", codes=asked)
    assert [paper["code"] for paper in told["papers"]] == asked
    assert api.get(f"{ADDRESS}{told['code']}/").json() == told
    printed(api, "k2", codes=["HOOK-7"])
    [last, first] = api.get(ADDRESS).json()["results"]
    assert [paper["code"] for paper in first["papers"]] == asked[:100]
    assert (first["paper_count"], last["paper_count"]) == (101, 1)
    assert last["papers"] == [{"code": "HOOK-7", "reprint": 1}]


@pytest.mark.usefixtures("two_lots")
def test_who_only_looks_does_not_print(owner: User) -> None:
    create_person(
        username="vera", display_name="Vera", role=Role.VIEWER, password=None, by=owner, at=MONDAY
    )
    token = issue_token(username="vera", name="test", by=owner, at=MONDAY).text
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    printed(api, "k1", 403, codes=["A1"])
    assert api.get(ADDRESS).status_code == 200


@pytest.mark.django_db(transaction=True)
def test_of_those_who_print_the_same_at_once_one_prints_the_first(owner: User) -> None:
    need_threads()

    def note() -> object:
        return note_printing(
            kind="lots",
            codes=["A1"],
            copies=1,
            job=print_job("2x1", dpi=203),
            stamp=stamp_at(owner),
        )

    assert codes(at_once(*[note] * 6)) == ["done"] * 6
    numbers = PrintedPaper.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == [1, 2, 3, 4, 5, 6]
