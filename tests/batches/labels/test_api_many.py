"""Many papers in one file, asked for at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pypdfium2
import pytest
from rest_framework.test import APIClient

from batches.labels.rules.stock import number_fault
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from tests.batches.labels.conftest import MONDAY, ink_um, rendered, stamp_at, symbols, words

StockOf = Callable[..., Lot]
LOTS = "/api/v1/labels/lots.pdf"


@pytest.fixture
def three_lots(stock_of: StockOf) -> None:
    """A1, A2 and A3."""
    for code in ("A1", "A2", "A3"):
        stock_of(f"ITEM-{code}", lot_code=code)


@pytest.mark.usefixtures("three_lots")
def test_they_come_in_the_order_asked_each_as_often_as_wanted(api: APIClient) -> None:
    query: dict[str, Any] = {"codes": "a3, A1", "copies": 2}
    answer = api.get(LOTS, query)
    assert answer.status_code == 200
    pdf = answer.content
    pages = range(len(pypdfium2.PdfDocument(pdf)))
    found = [symbols(rendered(pdf, dpi=203, page=page)) for page in pages]
    assert [code for ((_, code),) in found] == ["A3", "A3", "A1", "A1"]
    assert answer["Content-Disposition"] == 'inline; filename="lots-A3-and-3-more.pdf"'


@pytest.mark.usefixtures("three_lots")
def test_they_fill_a_part_used_sheet(api: APIClient) -> None:
    query: dict[str, Any] = {"codes": "A1,A2,A3", "stock": "letter-30", "start": 29}
    pdf = api.get(LOTS, query).content
    assert [("A2" in words(pdf)), ("A3" in words(pdf)), ("A3" in words(pdf, 1))] == [
        True,
        False,
        True,
    ]


@pytest.mark.usefixtures("three_lots")
@pytest.mark.parametrize(
    ("x_mm", "y_mm"), [("0", "0"), ("2.5", "-1.25"), ("-25", "25"), ("0.01", "0")]
)
def test_a_nudge_is_in_millimeters(api: APIClient, x_mm: str, y_mm: str) -> None:
    query: dict[str, Any] = {"codes": "A1", "stock": "a4-8", "start": 4, "dpi": 600}
    plain = ink_um(api.get(LOTS, query).content, dpi=600)
    nudged = api.get(LOTS, {**query, "nudge_x_mm": x_mm, "nudge_y_mm": y_mm})
    assert nudged.status_code == 200
    moved = ink_um(nudged.content, dpi=600)
    assert moved.left_um - plain.left_um == pytest.approx(float(x_mm) * 1000, abs=90)
    assert moved.top_um - plain.top_um == pytest.approx(float(y_mm) * 1000, abs=90)


@pytest.mark.usefixtures("three_lots")
@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ({"codes": "A1,NONE,NEITHER"}, 404, "not_found"),
        ({"codes": ","}, 422, "invalid_input"),
        ({}, 422, "invalid_input"),
        ({"codes": ",".join(["A1"] * 10_001)}, 422, "invalid_input"),
        ({"codes": "A1,A2", "copies": 5_001}, 422, "invalid_input"),
        ({"codes": "A1", "copies": 0}, 422, "invalid_input"),
        ({"codes": "A1", "copies": 100_001}, 422, "invalid_input"),
        ({"codes": "A1", "stock": "letter-30", "start": 31}, 422, "start_off_sheet"),
        ({"codes": "A1", "stock": "letter-30", "start": 0}, 422, "invalid_input"),
        ({"codes": "A1", "stock": "nowhere"}, 422, "stock_unknown"),
        ({"codes": "A1", "nudge_x_mm": "25.01"}, 422, "invalid_input"),
        ({"codes": "A1", "nudge_y_mm": "-25.01"}, 422, "invalid_input"),
        ({"codes": "A1", "nudge_y_mm": "NaN"}, 422, "invalid_input"),
        ({"codes": "A1", "dpi": 150}, 422, "invalid_input"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_words(
    api: APIClient, query: dict[str, Any], status: int, code: str
) -> None:
    answer = api.get(LOTS, query)
    assert (answer.status_code, answer.json()["code"]) == (status, code)


@pytest.mark.usefixtures("three_lots")
def test_all_unknown_codes_are_named_at_once(api: APIClient) -> None:
    said = api.get(LOTS, {"codes": "A1,NONE,NEITHER"}).json()["detail"]
    assert "NONE" in said
    assert "NEITHER" in said


@pytest.mark.parametrize(
    ("codes", "copies", "said"),
    [
        (1, 10_000, ""),
        (10_000, 1, ""),
        (100, 100, ""),
        (101, 100, "101 codes, 100 of each, are 10,100 labels; one file takes 10,000. Split"),
        (101, 100, "print at most 100 codes at a time"),
        (2, 5_001, "print at most 1 code at a time"),
        (100_001, 1, "100,001 labels; one file takes 10,000. Split them: print at most 10,000"),
        (1, 10_001, "print at most 10,000 copies at a time"),
        (0, 1, "at least one code"),
        (1, 0, "at least one copy"),
    ],
)
def test_ten_thousand_labels_and_no_more_make_a_file(codes: int, copies: int, said: str) -> None:
    fault = number_fault(codes, copies)
    assert said in fault
    assert bool(fault) == bool(said)


def test_four_hundred_come_in_the_order_asked(
    api: APIClient, owner: User, stock_of: StockOf
) -> None:
    stock_of("HOOK", lot_code="HOOK-0")
    lots = [
        OpeningLot(item_code="HOOK", qty_base=1, value_micro=0, lot_code=f"HOOK-{number}")
        for number in range(1, 400)
    ]
    take_in_opening_lots(lots=lots, stamp=stamp_at(owner, MONDAY))
    asked = [f"HOOK-{number * 7 % 400}" for number in range(400)]  # each once, in no other order
    pdf = api.get(LOTS, {"codes": ",".join(asked)}).content
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        image = np.asarray(page.render(scale=203 / 72, grayscale=True).to_numpy()).squeeze()
        ((_, code),) = symbols(image)
        assert code in page.get_textpage().get_text_range().split()
        found.append(code)
    assert found == asked
