"""The shop's own stock: by its dimensions, judged, put right, printed on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pypdfium2
import pytest
from rest_framework.test import APIClient

from batches.labels.models import LabelStock
from inventory.stock.models import Lot
from tests.batches.labels.conftest import ink_um

StockOf = Callable[..., Lot]
ADDRESS = "/api/v1/label-stocks/"

# A letter sheet of 2 by 3 labels of 4 x 3 in, a quarter of an inch from the left, one from the top.
SHEET = {
    "code": "six-up", "unit": "in", "page_width": "8.5", "page_height": "11", "label_width": "4",
    "label_height": "3", "columns": 2, "rows": 3, "left": "0.25", "top": "1", "pitch_x": "4",
}  # fmt: skip


def sent(api: APIClient, address: str, body: Any, status: int) -> Any:
    answer = api.post(address, body, format="json", headers={"Idempotency-Key": uuid4().hex})
    assert answer.status_code == status, answer.content
    return answer.json()


def test_it_is_entered_in_inches_and_told_in_millimeters(api: APIClient) -> None:
    told = sent(api, ADDRESS, SHEET, 201)
    assert told == {
        "code": "SIX-UP",
        "is_standing": False,
        "is_active": True,
        "page_width_mm": "215.9",
        "page_height_mm": "279.4",
        "label_width_mm": "101.6",
        "label_height_mm": "76.2",
        "columns": 2,
        "rows": 3,
        "left_mm": "6.35",
        "top_mm": "25.4",
        "pitch_x_mm": "101.6",
        "pitch_y_mm": "76.2",
        "margin_mm": "1.588",
    }
    listed = api.get(ADDRESS).json()["results"]
    assert listed[-1] == told
    assert [row["code"] for row in listed if row["is_standing"]][:2] == ["4x6", "4x2"]


def test_a_roll_is_its_label(api: APIClient) -> None:
    told = sent(api, ADDRESS, {"code": "R", "label_width": "57.5", "label_height": "32"}, 201)
    assert (told["page_width_mm"], told["page_height_mm"], told["rows"]) == ("57.5", "32", 1)


def test_papers_are_printed_where_its_labels_lie(api: APIClient, stock_of: StockOf) -> None:
    stock_of("HOOK", lot_code="H1", kind="hook")
    sent(api, ADDRESS, SHEET, 201)
    query: dict[str, Any] = {"stock": "six-up", "start": 4}  # the second of the second row
    pdf = api.get("/api/v1/labels/lots/H1.pdf", query).content
    assert pypdfium2.PdfDocument(pdf)[0].get_size() == pytest.approx((612, 792), abs=72 / 203)
    ink = ink_um(pdf, dpi=203)
    assert ink.is_within(6_350 + 101_600, 25_400 + 76_200, 6_350 + 203_200, 25_400 + 152_400)
    sent(api, f"{ADDRESS}six-up/change/", {"left": "9", "top": "20"}, 200)
    moved = ink_um(api.get("/api/v1/labels/lots/H1.pdf", query).content, dpi=203)
    assert moved.left_um - ink.left_um == pytest.approx(9_000 - 6_350, abs=130)
    assert moved.top_um - ink.top_um == pytest.approx(20_000 - 25_400, abs=130)


def test_one_out_of_use_is_not_printed_on(api: APIClient, stock_of: StockOf) -> None:
    stock_of("HOOK", lot_code="H1", kind="hook")
    sent(api, ADDRESS, SHEET, 201)
    sent(api, f"{ADDRESS}SIX-UP/change/", {"is_active": False}, 200)
    answer = api.get("/api/v1/labels/lots/H1.pdf", {"stock": "SIX-UP"})
    assert (answer.status_code, answer.json()["code"]) == (422, "stock_unknown")
    assert "SIX-UP" not in answer.json()["facts"]["stocks"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"columns": 3}, "The last column ends right of the page"),
        ({"top": "3"}, "The last row ends below the page"),
        ({"pitch_x": "3.9"}, "overlap"),
        ({"margin": "1.5"}, "margins leave nothing"),
        ({"label_width": "0.1", "pitch_x": "0.2"}, "10 to 450 mm"),
        ({"page_width": "215.9"}, "10 to 450 mm"),  # millimeters given as inches
        ({"code": "LETTER-30"}, "A standing stock has this name"),
        ({"code": "six up"}, "code"),
        ({"left": "-1"}, "left"),
        ({"rows": 0}, "rows"),
        ({"unit": "ft"}, "unit"),
    ],
)
def test_labels_that_cannot_lie_so_are_refused(
    api: APIClient, change: dict[str, Any], words: str
) -> None:
    answer = api.post(ADDRESS, {**SHEET, **change}, format="json", headers={"Idempotency-Key": "k"})
    assert answer.status_code in {409, 422}
    assert words in answer.json()["detail"]
    assert not LabelStock.objects.exists()


def test_a_name_that_is_taken_is_refused(api: APIClient) -> None:
    sent(api, ADDRESS, SHEET, 201)
    assert sent(api, ADDRESS, SHEET, 409)["code"] == "duplicate_code"


def test_a_change_that_cannot_be_changes_nothing_and_a_standing_one_stays(api: APIClient) -> None:
    sent(api, ADDRESS, SHEET, 201)
    before = api.get(ADDRESS).json()
    refused = sent(api, f"{ADDRESS}SIX-UP/change/", {"rows": 9}, 422)
    assert refused["code"] == "stock_impossible"
    sent(api, f"{ADDRESS}4x6/change/", {"rows": 9}, 404)
    assert api.get(ADDRESS).json() == before
