"""A whole shop goes out into a folder and comes in elsewhere, exactly."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.conf import LazySettings
from django.db import connection
from rest_framework.test import APIClient

from batches.bills.models import BillLine
from batches.exchange.rules.moving_sheets import ROWS_AT_ONCE
from inventory.catalog.models import Item
from inventory.stock.models import Lot, Movement, Posting
from inventory.stock.operations import adjust_lot
from shopfloor.models import Token, User
from shopfloor.operations.passwords import set_password
from shopfloor.operations.tokens import issue_token
from shopfloor.stamp import Stamp
from tests.batches.exchange.moving import (
    answers,
    emptied,
    everything_happens,
    exported,
    taken_in,
)
from tests.batches.exchange.small import CLOCK
from tests.bench.past import fill, today

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def whole_shop(small_shop: None, owner: User, bench: User) -> None:
    everything_happens(owner, bench)


def test_a_shop_that_moved_is_the_same_shop(whole_shop: None, tmp_path: Path) -> None:
    before = answers()
    first = exported(tmp_path / "first")
    emptied()
    taken_in(tmp_path / "first")
    assert answers() == before
    assert exported(tmp_path / "second") == first
    assert [proof for proof in before[-1] if proof.differences] == []


def test_the_shop_that_moves_has_something_of_everything(whole_shop: None, tmp_path: Path) -> None:
    sheets = exported(tmp_path / "out")
    bare = [name for name, data in sheets.items() if data.count(b"\n") < 2]
    assert bare == []


@pytest.fixture
def scanner(small_shop: None, owner: User) -> str:
    """A person with a password, and the text of a token of theirs."""
    set_password(username="hand", password="a mold of 8 halves", by=owner, at=CLOCK.now)
    return issue_token(username="hand", name="scanner", by=owner, at=CLOCK.now).text


def opens(token: str) -> tuple[bool, int]:
    """Whether the password opens the shop, and what a program with the token is answered."""
    asked = APIClient().get("/api/v1/lots/", headers={"Authorization": f"Token {token}"})
    return User.objects.get(username="hand").check_password("a mold of 8 halves"), asked.status_code


def test_passwords_and_tokens_stay_behind(scanner: str, tmp_path: Path) -> None:
    digest = Token.objects.get().digest
    assert opens(scanner) == (True, 200)
    sheets = exported(tmp_path / "out")
    emptied()
    assert "No password came along" in taken_in(tmp_path / "out")
    assert opens(scanner) == (False, 401)
    assert Token.objects.get().name == "scanner"
    assert [name for name, data in sheets.items() if digest.encode() in data] == []
    assert [name for name, data in sheets.items() if b"$" in data] == []


def test_passwords_and_tokens_come_along_if_asked_for(scanner: str, tmp_path: Path) -> None:
    exported(tmp_path / "out", "--with-sign-ins")
    emptied()
    assert "password" not in taken_in(tmp_path / "out")
    assert opens(scanner) == (True, 200)


def test_what_comes_after_the_move_takes_the_next_number(
    whole_shop: None, owner: User, tmp_path: Path
) -> None:
    last = Posting.objects.latest("pk").pk
    exported(tmp_path / "out")
    emptied()
    taken_in(tmp_path / "out")
    stamp = Stamp(by=owner, at=CLOCK.now, now=CLOCK.now, reason="found")
    assert adjust_lot(lot_code="ADHB-1", qty_base=1, stamp=stamp).posting.pk == last + 1


def test_times_are_kept_as_the_product_itself_keeps_them(whole_shop: None, tmp_path: Path) -> None:
    before = raw_rows()
    exported(tmp_path / "out")
    emptied()
    taken_in(tmp_path / "out")
    assert raw_rows() == before


def raw_rows() -> list[Any]:
    """What the database holds of lots and postings, as the driver gives it."""
    found = []
    with connection.cursor() as cursor:
        for model in (Lot, Posting, BillLine, Item):
            cursor.execute(f"SELECT * FROM {model._meta.db_table} ORDER BY id")  # noqa: S608 - ours
            found += cursor.fetchall()
    return found


def test_a_demo_stays_one_where_it_moves(
    owner: User, tmp_path: Path, settings: LazySettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.SHOP_IS_DEMO = True
    exported(tmp_path / "out")
    emptied()
    settings.SHOP_IS_DEMO = False
    monkeypatch.setenv("SHOP_DATA_DIR", str(tmp_path))
    taken_in(tmp_path / "out")
    assert (tmp_path / "demo.txt").read_text() == "loaded"


def test_a_month_made_at_random_moves_too(db: None, tmp_path: Path) -> None:
    fill(workdays=22, last_day=today(), model="M90", seed=12)
    first = exported(tmp_path / "first")
    emptied()
    taken_in(tmp_path / "first")
    assert Movement.objects.count() > ROWS_AT_ONCE
    assert exported(tmp_path / "second") == first
