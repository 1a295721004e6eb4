"""Folding: like cards become one, nothing leads back, and it stays readable at any size."""

from __future__ import annotations

import pytest

from batches.trace.rules.drawing import laid_out
from batches.trace.rules.folding import CARDS_MAX, FOLD_MIN, OPENED_MAX, folds
from batches.trace.selectors import Question, downstream
from batches.trace.selectors.folded import folded_picture
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches.trace.conftest import Run, entry


def fan(count: int, items: int) -> tuple[list[str], list[tuple[str, str]]]:
    """A start that so many lots of so many items came of."""
    lots = [f"lot-{number}.{number % items}" for number in range(count)]
    return ["start", *lots], [("start", lot) for lot in lots]


def folded(count: int, items: int, opened: list[str] | None = None) -> dict[str, list[str]]:
    cards, links = fan(count, items)
    close = {card: card.partition(".")[2] for card in cards[1:]}
    return folds(cards, links, close=close, wide=dict.fromkeys(close, "all"), opened=opened or [])


def test_few_alike_stand_by_themselves_and_one_more_folds_them() -> None:
    assert folded(FOLD_MIN - 1, 1) == {}
    assert [len(cards) for cards in folded(FOLD_MIN, 1).values()] == [FOLD_MIN]


def test_an_opened_fold_has_its_cards_again() -> None:
    [name] = folded(FOLD_MIN, 1)
    assert folded(FOLD_MIN, 1, [name]) == {}


def test_a_fold_too_tall_to_read_stays_shut() -> None:
    [name] = folded(OPENED_MAX + 1, 1)
    assert name in folded(OPENED_MAX + 1, 1, [name])
    assert folded(OPENED_MAX, 1, [name]) == {}


def test_many_items_fold_by_kind_first_and_by_item_when_that_is_opened() -> None:
    count = (CARDS_MAX + 1) * FOLD_MIN
    [wide] = folded(count, CARDS_MAX + 1)
    assert len(folded(count, CARDS_MAX + 1)[wide]) == count
    assert len(folded(count, CARDS_MAX + 1, [wide])) == CARDS_MAX + 1


def test_cards_further_along_are_a_fold_of_their_own() -> None:
    chain = [f"{number}" for number in range(2 * FOLD_MIN)]
    first, second = chain[:FOLD_MIN], chain[FOLD_MIN:]
    links = list(zip(first, second, strict=True))
    alike = dict.fromkeys(chain, "same")
    assert sorted(map(sorted, folds(chain, links, close=alike, wide=alike).values())) == [
        first,
        second,
    ]


@pytest.fixture
def many_runs(run: Run, lead: User) -> Lot:
    """Four more entries of one pot of adhesive; answers it."""
    for minute in range(4):
        entry("GLUING-1", 1, by=lead, minute=31 + minute)
    return run.glue


def test_like_runs_and_lots_are_one_card_each_with_their_number_and_amount(
    many_runs: Lot,
) -> None:
    answer = downstream(Question(lot=many_runs.code))
    picture = folded_picture(answer)
    runs, lots = (card for card in picture.cards if card.of > 1)
    assert (runs.title, runs.of, runs.is_event) == (f"{runs.of} x GLUING", 6, True)
    assert lots.title == "6 lots"
    assert "74 pieces" in lots.lines
    assert (runs.key, lots.key) in picture.parted
    drawing = laid_out(picture)
    assert drawing.placed
    left = {placed.card.key: placed.left for placed in drawing.placed}
    assert all(left[before] < left[after] for before, after in picture.parted)


def test_an_opened_stack_shows_each_lot_to_begin_again_from(many_runs: Lot) -> None:
    answer = downstream(Question(lot=many_runs.code))
    name = next(card.key for card in folded_picture(answer).cards if card.title == "6 lots")
    opened = folded_picture(answer, opened=[name])
    assert sum(card.lines[:1] == ("BODY-70",) for card in opened.cards) == 6
    assert all(card.code for card in opened.cards if card.of == 1 and not card.is_event)
