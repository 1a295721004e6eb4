"""The rows of the list of lots are those that a single lot shows, made another way."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.test import APIClient

from inventory.catalog.models import Item, Place
from inventory.stock.filters import LotFilter
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, open_lot, split_off, take_in_opening_lots
from inventory.stock.selectors.listed import lots_found, lots_shown
from inventory.stock.selectors.lots import as_json, lot_row, lots
from shopfloor.code_filter import asked_codes
from shopfloor.doors.kept import kept_list
from shopfloor.models import User
from shopfloor.units import AMOUNT_BASE_MAX, UNITS, Measure, from_base, own_text
from tests.inventory.stock.conftest import NOON, stamp_at


@pytest.fixture
def api(lead: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(lead)
    return client


@pytest.fixture
def three_lots(hook: Item, adhesive: Item, bench: Place, lead: User) -> None:
    """An open bottle, what was split off it, and hooks of somebody else."""
    odd = NOON.replace(microsecond=123_000) - timedelta(hours=5)
    bottle = OpeningLot(
        item_code=adhesive.code, qty_base=1_234_567, value_micro=7_650_001, lot_code="BOTTLE"
    )
    hooks = OpeningLot(item_code=hook.code, qty_base=25, value_micro=0, owner="Somebody else")
    take_in_opening_lots(lots=[bottle, hooks], stamp=stamp_at(lead, odd))
    split_off(lot_code="BOTTLE", qty_base=200, place_code=bench.code, stamp=stamp_at(lead, NOON))
    open_lot(lot_code="BOTTLE", stamp=stamp_at(lead, NOON))


def test_a_row_says_what_the_lot_itself_says(api: APIClient, three_lots: None) -> None:
    shown = {row["id"]: as_json(lot_row(row)) for row in lots()}
    rows = api.get("/api/v1/lots/", {"ordering": "-born_at"}).json()["results"]
    order = Lot.objects.order_by("-born_at", "pk").values_list("pk", flat=True)
    assert rows == [shown[number] for number in order]
    assert len({row["born_at"] for row in rows}) == 2
    assert len(rows) == 3


def codes(api: APIClient, **query: str) -> list[str]:
    return [row["code"] for row in api.get("/api/v1/lots/", query).json()["results"]]


def test_a_list_asked_again_has_what_came_since_and_mixes_nothing_up(
    api: APIClient, three_lots: None, hook: Item, lead: User
) -> None:
    bottles = codes(api, item="ADH")
    hooks = codes(api, item="HOOK-6")
    assert (len(bottles), len(hooks)) == (2, 1)
    opening = OpeningLot(item_code=hook.code, qty_base=1, value_micro=0, lot_code="NEW")
    take_in_opening_lots(lots=[opening], stamp=stamp_at(lead, NOON))
    assert codes(api, item="HOOK-6") == [*hooks, "NEW"]
    assert codes(api, item="HOOK-6", ordering="-code") == sorted([*hooks, "NEW"], reverse=True)
    assert codes(api, item="HOOK-6", page_size="1", page="2") == ["NEW"]
    assert codes(api, item="ADH", is_on_hand="true") == bottles
    assert codes(api, item="ADH", is_on_hand="false") == []


def test_a_page_takes_two_statements_and_the_same_asked_again(
    api: APIClient, three_lots: None, django_assert_num_queries: Any
) -> None:
    for _ in range(2):
        with django_assert_num_queries(2):
            assert len(codes(api, item="ADH", search="bottle")) == 2


def test_another_code_goes_into_the_same_statement(three_lots: None) -> None:
    def listed(text: str, found: Any = None) -> Any:
        query = QueryDict(text)
        found = found or (lambda: LotFilter(query, queryset=lots_found()).qs)
        return kept_list("by code", query, found, lots_shown, asked_codes(LotFilter, query))

    assert listed("item=ADH&place=bench").count() == 1
    hooks = listed("item=hook-6&place=SHELF-A", found=pytest.fail)
    assert (hooks.count(), [row[2] for row in hooks[0:9]]) == (1, ["HOOK-6"])
    assert listed("place=SHELF-A").count() == 2
    assert listed("item=&place=SHELF-A").count() == 2
    assert listed("item=%20&place=SHELF-A").count() == 2


def test_a_list_that_can_have_no_rows_asks_for_none(db: None) -> None:
    nothing = kept_list("nothing", QueryDict(), Lot.objects.none, lots_shown, {})
    assert (nothing.count(), list(nothing[0:9])) == (0, [])


@given(st.integers(-AMOUNT_BASE_MAX, AMOUNT_BASE_MAX), st.sampled_from(sorted(UNITS)))
def test_the_digits_are_those_of_the_one_conversion(qty_base: int, unit: str) -> None:
    exact = from_base(qty_base=qty_base, unit=unit, item=Measure(dimension=UNITS[unit].dimension))
    assert own_text(qty_base, unit) == f"{exact:f}"
