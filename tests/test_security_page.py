"""docs/security.md names what is there, and says one of three things of each requirement."""

from __future__ import annotations

import re

import pytest

from shopfloor.bootstrap import ROOT

PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
LINES = re.findall(r"^\| (\d+\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \|$", PAGE, re.MULTILINE)
PLACES = sorted(
    set(re.findall(r"`((?:\.ci|batches|docs|requirements|shopfloor|tests)/[\w./-]+)`", PAGE))
)


def test_each_requirement_stands_once_in_order_and_is_met_open_or_not_applicable() -> None:
    numbers = [tuple(map(int, number.split("."))) for number, _, _ in LINES]
    assert len(numbers) > 250
    assert numbers == sorted(set(numbers))
    assert {state for _, state, _ in LINES} == {"met", "open", "n/a"}
    assert {chapter for chapter, _, _ in numbers} == set(range(1, 15))


@pytest.mark.parametrize("place", PLACES)
def test_what_the_page_points_to_is_there(place: str) -> None:
    assert (ROOT / place).exists()


def test_what_is_open_is_not_said_to_be_tested_alone() -> None:
    said = {number: words for number, state, words in LINES if state == "open"}
    assert [number for number, words in said.items() if re.fullmatch(r"`[^`]+`", words)] == []
