"""Buttons of a page: few stand side by side, of many those for something special are folded."""

from __future__ import annotations

from shopfloor.screens.things import ACTS_MAX, PAPER, Button, Fold, folded

TRACE = Button("Trace it", "/trace/", is_main=True)
HOLD = Button("Hold", "hold/", is_main=False, group="Stop")
PRINT = Button("Print labels", "/printings/new/", is_main=False, group=PAPER)
STICKER = ("Sticker", "/api/v1/labels/lots/L.pdf")


def test_of_many_buttons_the_usual_ones_stand_first_and_the_others_by_what_they_are_for() -> None:
    stop = [HOLD] * (ACTS_MAX - 2)
    assert folded([TRACE, *stop, PRINT], [STICKER]) == {
        "acts": [TRACE],
        "papers": (),
        "folds": [Fold("Stop", stop), Fold(PAPER, [PRINT], [STICKER])],
    }


def test_few_buttons_stand_side_by_side() -> None:
    assert folded([TRACE, *[HOLD] * (ACTS_MAX - 2)], [STICKER]) == {"folds": ()}
