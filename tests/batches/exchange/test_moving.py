"""A whole shop goes out into a folder and comes in elsewhere, exactly."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopfloor.models import User
from tests.batches.exchange.moving import (
    answers,
    emptied,
    everything_happens,
    exported,
    taken_in,
)

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
