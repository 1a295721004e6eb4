"""Where every piece of a lot is."""

from __future__ import annotations

from typing import NamedTuple

from batches.recall.rules import Balance, balance_of


class Change(NamedTuple):
    """By postings of a kind."""

    kind: str
    came_in_base: int
    went_out_base: int


def test_a_lot_is_accounted_for_to_the_piece() -> None:
    changes = [
        Change("made", 100, 20),
        Change("split", 0, 24),
        Change("shipped", 0, 30),
        Change("returned", 2, 0),
        Change("disposed", 0, 5),
        Change("counted", 1, 4),
        Change("adjusted", 0, 2),
    ]
    balance = balance_of(changes, free_base=0, stopped_base=18)
    assert balance == Balance(
        made=100, used=20, parted=-24, shipped=30, returned=2, disposed=5, unexplained=5, stopped=18
    )
    assert balance.is_even


def test_one_piece_more_on_the_shelf_is_not_even() -> None:
    assert not balance_of([Change("received", 10, 0)], free_base=11, stopped_base=0).is_even


def test_a_lot_sent_back_to_its_supplier() -> None:
    changes = [Change("received", 10, 0), Change("returned", 0, 4), Change("mixed", 0, 6)]
    balance = balance_of(changes, free_base=0, stopped_base=0)
    assert balance == Balance(received=10, sent_back=4, used=6)
    assert balance.is_even


def test_a_split_within_adds_up_to_nothing() -> None:
    whole = balance_of(
        [Change("received", 10, 0), Change("split", 0, 4)], free_base=6, stopped_base=0
    )
    part = balance_of([Change("split", 4, 0)], free_base=0, stopped_base=4)
    assert whole + part == Balance(received=10, free=6, stopped=4)
