"""Drawings of charts: where a value lies, where a line breaks, what is said."""

from __future__ import annotations

import re
from xml.etree import ElementTree as Xml

import pytest

from batches.quality.rules.drawing import (
    HEIGHT,
    Point,
    Scale,
    characteristic,
    control_chart,
    laid_out,
    ticks,
)


def read(drawing: str) -> Xml.Element:
    return Xml.fromstring(drawing)  # noqa: S314 - our own


@pytest.mark.parametrize(
    ("low", "high", "found"),
    [
        (0, 1, [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        (4.13, 4.37, [4.15, 4.2, 4.25, 4.3, 4.35]),
        (-7, 23, [0.0, 10.0, 20.0]),
        (0.001, 0.0013, [0.001, 0.0011, 0.0012, 0.0013]),
    ],
)
def test_lines_stand_at_round_numbers(low: float, high: float, found: list[float]) -> None:
    assert ticks(low, high) == pytest.approx(found)


def test_a_value_lies_between_the_ends_in_proportion() -> None:
    assert Scale(10, 20, 100, 0).at(12.5) == 75


def points(*values: float | None) -> list[Point]:
    return [Point(value, 1.0, 5.0, f"K-{at}") for at, value in enumerate(values)]


def test_a_missing_value_breaks_the_line_and_has_no_dot() -> None:
    drawn = read(control_chart(laid_out(points(2, 3, None, 4, 2), center=3), title="A chart"))
    lines = [each for each in drawn.iter("polyline") if each.get("class") == "values"]
    assert [len((each.get("points") or "").split()) for each in lines] == [2, 2]
    assert len(list(drawn.iter("circle"))) == 4


def test_higher_values_lie_higher_and_all_of_it_lies_within() -> None:
    text = control_chart(laid_out(points(1.5, 4.5, 3), center=3), title="A chart")
    drawn = read(text)
    low, high, middle = (float(each.get("cy") or 0) for each in drawn.iter("circle"))
    assert high < middle < low
    places = [float(y) for y in re.findall(r",(-?[\d.]+)", text)]
    assert all(0 <= y <= HEIGHT for y in places)


def test_a_point_at_which_a_rule_fired_is_another_shape_with_its_words() -> None:
    fired = Point(9.0, 1.0, 5.0, "K-9 <9 g>", is_fired=True)
    drawn = read(control_chart(laid_out([*points(2, 3), fired], center=3), title="A & B"))
    [mark] = drawn.iter("rect")
    assert mark.findtext("title") == "K-9 <9 g>"
    assert drawn.get("aria-label") == "A & B"


def test_one_point_or_points_all_alike_can_be_drawn() -> None:
    alone = Point(0.0, None, None, "K-0")
    assert read(control_chart(laid_out([alone], center=0), title="One")).find("circle") is not None


def test_a_curve_begins_at_a_process_that_never_fails() -> None:
    drawn = read(characteristic([(0.01, 0.95), (0.1, 0.1)], title="Lots that pass"))
    [line] = [each for each in drawn.iter("polyline") if each.get("class") == "values"]
    ys = [float(place.split(",")[1]) for place in (line.get("points") or "").split()]
    assert len(ys) == 3
    assert ys == sorted(ys)
