"""The books of a period: opening value, lines, sums and closing value, and the stock of a day."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from rest_framework.test import APIClient

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot, Movement, Posting
from inventory.stock.operations import (
    OpeningLot,
    adjust_lot,
    close_books,
    dispose_of_lot,
    revalue_lot,
    split_off,
    take_in_opening_lots,
)
from inventory.stock.selectors.books import (
    Period,
    book_lines,
    books_head,
    line_rows,
    stock_on,
    stock_rows,
)
from shopfloor.models import User
from tests.examples import ledgers
from tests.inventory.stock.conftest import NOON, stamp_at
from tests.inventory.stock.ledgers import events, make_lots, play, reverse_it

CHICAGO = ZoneInfo("America/Chicago")
DAY = timedelta(days=1)
MONDAY = date(2026, 3, 2)  # the day of NOON at the shop
TUESDAY, WEDNESDAY = MONDAY + DAY, MONDAY + 2 * DAY


@pytest.fixture
def books(lead: User) -> Callable[..., Any]:
    """`books(MONDAY, TUESDAY)`."""
    client = APIClient()
    client.force_authenticate(lead)

    def ask(first: date, last: date, **more: str) -> Any:
        return client.get("/api/v1/books/", {"from": str(first), "to": str(last), **more})

    return ask


@pytest.fixture
def three_days(lot_of_500_hooks: Lot, lead: User) -> Lot:
    """Hooks worth 10.00 on Monday; 50 thrown away and 1.80 of freight on Tuesday; a correction.

    On Wednesday the disposal is reversed, 5 are adjusted away and 100 split off.
    """
    lot = lot_of_500_hooks
    thrown = dispose_of_lot(lot_code=lot.code, qty_base=50, stamp=stamp_at(lead, NOON + DAY))
    revalue_lot(
        lot_code=lot.code,
        value_micro=1_800_000,
        document="INV-7",
        stamp=stamp_at(lead, NOON + DAY, "late freight"),
    )
    reverse_it(posting_id=thrown.posting.pk, stamp=stamp_at(lead, NOON + 2 * DAY, "was found"))
    adjust_lot(lot_code=lot.code, qty_base=-5, stamp=stamp_at(lead, NOON + 2 * DAY, "lost"))
    split_off(lot_code=lot.code, qty_base=100, stamp=stamp_at(lead, NOON + 2 * DAY))
    return lot


def sums(answer: Any) -> dict[str, str]:
    """Value by outside kind, where there is any."""
    return {
        row["outside_kind"]: row["value"]
        for row in answer.json()["outside"]
        if row["value"] != "0.00"
    }


def test_a_period_opens_with_what_was_there_and_closes_with_what_is_left(
    books: Callable[..., Any], three_days: Lot
) -> None:
    # By hand: 500 hooks for 10.00; on Tuesday 50 of them (1.00) go and 1.80 comes to the rest.
    first = books(MONDAY, MONDAY)
    assert (first.json()["opening_value"], first.json()["closing_value"]) == ("0.00", "10.00")
    assert sums(first) == {"adjustment": "10.00"}
    second = books(TUESDAY, TUESDAY)
    assert (second.json()["opening_value"], second.json()["closing_value"]) == ("10.00", "10.80")
    assert sums(second) == {"purchase": "1.80", "loss": "-1.00"}


def test_a_reversal_counts_on_the_day_it_was_made_and_both_name_each_other(
    books: Callable[..., Any], three_days: Lot
) -> None:
    thrown, _ = books(TUESDAY, TUESDAY).json()["results"]
    back = books(WEDNESDAY, WEDNESDAY).json()
    undone = back["results"][0]
    assert (undone["reverses"], thrown["reversed_by"]) == (thrown["posting"], undone["posting"])
    assert (thrown["value"], undone["value"]) == ("-1.00", "1.00")
    loss = next(row for row in back["outside"] if row["outside_kind"] == "loss")
    assert (loss["posted"], loss["undone"], loss["value"]) == ("0.00", "1.00", "1.00")
    whole = books(MONDAY, WEDNESDAY).json()["outside"]
    loss = next(row for row in whole if row["outside_kind"] == "loss")
    assert (loss["postings"], loss["posted"], loss["undone"], loss["value"]) == (
        2,
        "-1.00",
        "1.00",
        "0.00",
    )


def test_a_day_is_the_shops_and_business_time_decides(
    books: Callable[..., Any], hook: Item, lead: User
) -> None:
    last_second = datetime(2026, 3, 2, 23, 59, 59, tzinfo=CHICAGO)
    opening = OpeningLot(item_code=hook.code, qty_base=1, value_micro=5_000_000)
    for at in (last_second, last_second + timedelta(seconds=1)):
        take_in_opening_lots(lots=[opening], stamp=stamp_at(lead, at))
    assert books(MONDAY, MONDAY).json()["count"] == books(TUESDAY, TUESDAY).json()["count"] == 1
    assert books(MONDAY, TUESDAY).json()["closing_value"] == "10.00"
    written_down = stamp_at(lead, NOON).now.astimezone(CHICAGO).date()
    assert books(written_down, written_down).json()["count"] == 0


def test_a_period_is_final_when_the_books_are_closed_to_its_end(
    books: Callable[..., Any], three_days: Lot, lead: User
) -> None:
    assert books(MONDAY, TUESDAY).json()["is_final"] is False
    close_books(through=TUESDAY, stamp=stamp_at(lead, NOON + 9 * DAY))
    assert books(MONDAY, TUESDAY).json()["is_final"] is True
    answer = books(MONDAY, WEDNESDAY).json()
    assert (answer["is_final"], answer["closed_through"]) == (False, "2026-03-03")


def test_it_says_that_it_is_a_worksheet_and_in_which_currency(
    books: Callable[..., Any], three_days: Lot
) -> None:
    answer = books(MONDAY, TUESDAY).json()
    assert "ask a licensed adviser" in answer["note"]
    assert "not say what is owed" in answer["note"]
    assert (answer["currency"], answer["from"], answer["to"]) == ("USD", "2026-03-02", "2026-03-03")


def rows_of_csv(answer: Any) -> list[dict[str, str]]:
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def total(rows: Iterable[Mapping[str, str]], kind: str) -> Decimal:
    return sum((Decimal(row["value"]) for row in rows if row["row"] == kind), Decimal())


def test_a_sheet_begins_with_the_opening_value_and_ends_with_the_closing_value(
    books: Callable[..., Any], three_days: Lot
) -> None:
    answer = books(TUESDAY, WEDNESDAY, format="csv")
    assert 'filename="books-2026-03-03-2026-03-04-' in answer["Content-Disposition"]
    rows = rows_of_csv(answer)
    assert (rows[0]["row"], rows[0]["value"]) == ("opening", "10.00")
    assert "ask a licensed adviser" in rows[0]["reason"]
    # By hand: 10.80 and the 1.00 that came back, less 5 of 500 hooks: 11.80 x 495 / 500.
    assert (rows[-1]["row"], rows[-1]["value"]) == ("closing", "11.682")
    assert total(rows, "movement") == total(rows, "outside") == Decimal("1.682")
    lines = books(TUESDAY, WEDNESDAY).json()["results"]
    assert [row["posting"] for row in rows if row["row"] == "movement"] == [
        line["posting"] for line in lines
    ]


@pytest.mark.parametrize(
    ("first", "last", "wrong"),
    [
        ("2026-03-03", "2026-03-02", {"to"}),
        ("2026-3-1", "2026-03-02", {"from"}),
        ("", "2026-03-02", {"from"}),
    ],
)
def test_a_period_that_cannot_be_meant_is_refused(
    books: Callable[..., Any], first: str, last: str, wrong: set[str]
) -> None:
    answer = books(first, last)
    assert (answer.status_code, set(answer.json()["facts"]["fields"])) == (422, wrong)


def test_the_stock_of_a_past_day_by_item(three_days: Lot, lead: User, adhesive: Item) -> None:
    client = APIClient()
    client.force_authenticate(lead)
    theirs = OpeningLot(item_code=adhesive.code, qty_base=9, value_micro=0, owner="A customer")
    take_in_opening_lots(lots=[theirs], stamp=stamp_at(lead, NOON))

    def on(day: date) -> Any:
        return client.get("/api/v1/books/stock/", {"on": str(day)}).json()["results"]

    assert on(MONDAY - DAY) == []
    hooks = {"item": "HOOK-6", "item_name": "Treble hook", "kind": "hook"}
    assert on(MONDAY) == [{**hooks, "on_hand": {"amount": "500", "unit": "each"}, "value": "10.00"}]
    assert on(TUESDAY) == [
        {**hooks, "on_hand": {"amount": "450", "unit": "each"}, "value": "10.80"}
    ]


def test_as_many_statements_for_many_lines_as_for_few(
    books: Callable[..., Any], hook: Item, lead: User
) -> None:
    def statements(lots: int) -> int:
        opening = OpeningLot(item_code=hook.code, qty_base=1, value_micro=7)
        take_in_opening_lots(lots=[opening] * lots, stamp=stamp_at(lead, NOON))
        with CaptureQueriesContext(connection) as seen:
            assert books(MONDAY, MONDAY).json()["count"] >= lots
        return len(seen)

    assert statements(1) == statements(40) <= 7


def micro(text: str) -> int:
    return int(Decimal(text) * 1_000_000)


def by_hand(first: date, last: date) -> tuple[int, dict[str, int], int]:
    """Opening value, sums and closing value, from row to row of the movements."""
    days = {p.pk: (p.at.astimezone(CHICAGO).date(), p.outside_kind) for p in Posting.objects.all()}
    opening, outside, closing = 0, dict[str, int](), 0
    for row in Movement.objects.all():
        day, kind = days[row.posting_id]
        opening += row.value_micro if day < first else 0
        closing += row.value_micro if day <= last else 0
        if first <= day <= last:
            outside[kind] = outside.get(kind, 0) + row.value_micro
    return opening, {kind: value for kind, value in outside.items() if value}, closing


class RandomBooks(TestCase):
    """Ledgers at random over three days, against a plain recomputation."""

    item: Item
    lead: User

    @classmethod
    def setUpTestData(cls) -> None:
        """An item and a person."""
        shelf = Place.objects.create(code="SHELF-A", name="Shelf A", kind="shelf")
        cls.item = Item.objects.create(
            code="HOOK-6",
            name="Treble hook",
            kind="hook",
            dimension="count",
            display_unit="each",
            storage_place=shelf,
        )
        cls.lead = User.objects.create(
            username="lead", display_name="Lead", role="lead", created_at=NOON
        )

    @ledgers(25)
    @given(script=events, first=st.integers(-1, 3), days=st.integers(0, 3))
    def test_opening_and_sums_are_closing_and_all_agree_with_the_movements(
        self, script: list[Any], first: int, days: int
    ) -> None:
        """And the stock of the last day is worth the closing value."""
        for day in range(3):
            stamp = stamp_at(self.lead, NOON + day * DAY)
            play(script[day::3], item=self.item, stamp=stamp, make=make_lots)
        period = Period(MONDAY + first * DAY, MONDAY + (first + days) * DAY)
        head = books_head(period)
        outside = {row.outside_kind: micro(row.value) for row in head.outside}
        opening, closing = micro(head.opening_value), micro(head.closing_value)
        assert opening + sum(outside.values()) == closing
        found = {kind: value for kind, value in outside.items() if value}
        assert (opening, found, closing) == by_hand(period.first, period.last)
        assert sum(micro(line.value) for line in line_rows(book_lines(period))) == closing - opening
        stock = stock_rows(stock_on(period.last))
        assert sum(micro(row.value) for row in stock) == closing
