"""Causes in plain words."""

from __future__ import annotations

from batches.trace.rules.bands import Exposure
from batches.trace.rules.causes import Cause, ExposureTable
from batches.trace.rules.fourfold import Fourfold, risk_ratio
from batches.trace.rules.wording import (
    RIVALS_MAX,
    cause_sentence,
    complaints_sentence,
    is_too_few,
    nothing_sentence,
    tie_sentence,
    too_few_sentence,
)

TABLE = Fourfold(30, 100, 10, 1000)
SAID = ExposureTable(TABLE, risk_ratio(TABLE), p=1e-9, false_share=1e-8, left=None)
CAUSE = Cause(number=0, chance=0.003, ratio=30.0, tied=(0,))
LOTS = [Exposure("lot", f"L-{number}") for number in range(8)]


def test_a_lot_is_with_or_without() -> None:
    assert cause_sentence(LOTS[0], SAID, CAUSE, is_only=True).startswith(
        "With lot L-0, 30.0% of the pieces failed (30 of 100); without it, 1.0% (10 of 1,000): "
        "30.0 times as often"
    )


def test_an_age_is_late_or_earlier() -> None:
    age = Exposure("age", "of GLUE since opening")
    assert cause_sentence(age, SAID, CAUSE, is_only=True).startswith(
        "Late in the age of GLUE since opening, 30.0% of the pieces failed (30 of 100); earlier, "
        "1.0% (10 of 1,000)"
    )


def test_of_many_a_few_are_named_and_the_rest_counted() -> None:
    words = "lot L-1, lot L-2, lot L-3, lot L-4, lot L-5 and 2 more"
    assert tie_sentence(LOTS[1:]) == f"The results cannot tell it from {words}."
    one = Exposure("lot", "L-0", together=tuple(LOTS[1:]))
    assert f"always went together with {words}:" in cause_sentence(one, SAID, CAUSE, is_only=True)


def test_a_rate_below_a_thousandth_keeps_a_digit() -> None:
    table = Fourfold(30, 100, 4, 10_000)
    said = ExposureTable(table, risk_ratio(table), p=0.0, false_share=0.0, left=5.25)
    words = cause_sentence(LOTS[0], said, CAUSE, is_only=False)
    assert "without it, 0.04% (4 of 10,000)" in words
    assert "5.2 times among pieces alike in the other causes" in words


def test_nothing_names_what_comes_nearest() -> None:
    words = nothing_sentence(failed=3, tested=1200, chance=0.4, nearest=LOTS[:2])
    assert "3 of 1,200 pieces failed" in words
    assert "in 40% of such times" in words
    assert "Nearest to it comes lot L-0." in words


def test_a_dozen_rivals_may_be_told_and_one_more_is_too_few_failures() -> None:
    rivals = [Exposure("lot", f"R-{number}") for number in range(RIVALS_MAX + 1)]
    assert not is_too_few(LOTS[0], rivals[1:])
    assert is_too_few(LOTS[0], rivals)
    assert is_too_few(Exposure("lot", "L-0", together=tuple(rivals[:7])), rivals[7:])
    words = too_few_sentence(LOTS[0], rivals, SAID)
    assert words.startswith("Too few failures to say. 30 of the pieces with lot L-0 failed (10 ")
    assert "13 other things explain that as well: lot R-0," in words
    assert "and 8 more. Hold or recall nothing on this alone" in words
    assert "times as often" not in words


def test_of_chosen_complaints_it_is_said_how_many_may_be_of_it() -> None:
    lot = LOTS[0]
    assert complaints_sentence(lot, 0, 3) == "None of the 3 complaints chosen can be of lot L-0."
    assert complaints_sentence(lot, 2, 3) == "2 of the 3 complaints chosen may be of lot L-0."
    assert complaints_sentence(lot, 0, 1) == "The complaint chosen cannot be of lot L-0."
    assert complaints_sentence(lot, 1, 1) == "The complaint chosen may be of lot L-0."
