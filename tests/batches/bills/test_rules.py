"""Arithmetic of bills: what a line takes, circles, levels, cost, difference and scaling."""

from decimal import Decimal
from fractions import Fraction
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from batches.bills.rules import (
    Difference,
    compare,
    find_cycle,
    items_over_share,
    line_need_base,
    low_level_codes,
    scaled_paint,
    share_base_max,
)
from shopfloor.errors import InvalidInputError

RATIOS = st.decimals("0", "0.99999", places=5)
PER_PIECE = st.decimals("0", "100000", places=9)


# What a line takes


def test_a_line_takes_its_amount_for_good_and_scrapped_pieces_and_once_a_batch() -> None:
    # Adhesive: 85 mg a body, 105 bodies worked on, 4 g left in the pot.
    first = line_need_base(
        per_piece_base=Decimal(85),
        pieces=105,
        per_batch_base=4_000,
        loss_ratio=Decimal(0),
        first_entry=True,
    )
    assert first == 12_925


def test_a_later_entry_takes_nothing_for_the_batch() -> None:
    later = line_need_base(
        per_piece_base=Decimal(85),
        pieces=105,
        per_batch_base=4_000,
        loss_ratio=Decimal(0),
        first_entry=False,
    )
    assert later == 8_925


@pytest.mark.parametrize(
    ("per_piece", "pieces", "loss", "expected_base"),
    [
        ("0.1", 30, "0", 3),  # floats would make it 3.0000000000000004, so 4
        ("0.1", 31, "0", 4),
        ("12.5", 100, "0.6", 3_125),  # paint: 60% overspray
        ("1", 1, "0.3", 2),
        ("1", 7, "0.3", 10),
        ("0", 1_000, "0.5", 0),
        ("5", 0, "0", 0),
    ],
)
def test_a_need_is_exact_and_rounded_up(
    per_piece: str, pieces: int, loss: str, expected_base: int
) -> None:
    found = line_need_base(
        per_piece_base=Decimal(per_piece),
        pieces=pieces,
        per_batch_base=0,
        loss_ratio=Decimal(loss),
        first_entry=True,
    )
    assert found == expected_base


@pytest.mark.parametrize("loss", ["1", "-0.00001", "60"])
def test_a_loss_of_all_material_or_less_than_none_is_refused(loss: str) -> None:
    with pytest.raises(InvalidInputError) as refused:
        line_need_base(
            per_piece_base=Decimal(1),
            pieces=1,
            per_batch_base=0,
            loss_ratio=Decimal(loss),
            first_entry=True,
        )
    assert refused.value.facts == {"ratio": loss}


@given(
    per_piece=PER_PIECE, pieces=st.integers(0, 10**6), loss=RATIOS, per_batch=st.integers(0, 10**9)
)
def test_a_need_covers_its_pieces_after_the_loss_by_less_than_one_base_unit(
    per_piece: Decimal, pieces: int, loss: Decimal, per_batch: int
) -> None:
    need_base = line_need_base(
        per_piece_base=per_piece,
        pieces=pieces,
        per_batch_base=per_batch,
        loss_ratio=loss,
        first_entry=True,
    )
    left = (need_base - per_batch) * (1 - Fraction(loss)) - Fraction(per_piece) * pieces
    assert 0 <= left < 1 - Fraction(loss)


# Alternatives


def test_an_alternative_may_fill_its_largest_share_and_not_one_base_unit_more() -> None:
    limits = {"REGRIND": Decimal("0.15")}
    most, more = {"RESIN": 8_501, "REGRIND": 1_500}, {"RESIN": 8_500, "REGRIND": 1_501}
    assert share_base_max(whole_base=10_001, largest_ratio=Decimal("0.15")) == 1_500
    assert items_over_share(whole_base=10_001, taken_base=most, largest_ratio=limits) == ()
    assert items_over_share(whole_base=10_001, taken_base=more, largest_ratio=limits) == (
        "REGRIND",
    )


def test_alternatives_over_their_share_are_named_and_those_without_a_limit_are_not() -> None:
    over = items_over_share(
        whole_base=100,
        taken_base={"RESIN": 40, "REGRIND": 30, "OLD-RESIN": 30},
        largest_ratio={"REGRIND": Decimal("0.29"), "OLD-RESIN": Decimal("0.3")},
    )
    assert over == ("REGRIND",)


def test_nothing_of_an_alternative_is_within_any_share_of_nothing() -> None:
    limits = {"REGRIND": Decimal("0.15")}
    nothing = {"REGRIND": 0}
    assert items_over_share(whole_base=0, taken_base=nothing, largest_ratio=limits) == ()


# Circles


def test_a_circle_is_named_as_a_path_back_to_its_first_item() -> None:
    edges = {"LURE": ["BODY", "HOOK"], "BODY": ["HALF", "GLUE"], "GLUE": ["HARDENER", "BODY"]}
    assert find_cycle(edges, "LURE") == ["BODY", "GLUE", "BODY"]


def test_an_item_made_of_itself_is_a_circle() -> None:
    assert find_cycle({"REGRIND": ["REGRIND"]}, "REGRIND") == ["REGRIND", "REGRIND"]


def test_an_item_that_two_others_take_is_no_circle() -> None:
    assert find_cycle({"A": ["B", "C"], "B": ["D"], "C": ["D"]}, "A") is None


def test_a_circle_that_the_start_does_not_reach_is_not_its_concern() -> None:
    assert find_cycle({"A": ["B"], "X": ["Y"], "Y": ["X"]}, "A") is None


def test_an_unknown_start_has_no_circle() -> None:
    assert find_cycle({}, "A") is None


def test_bills_deeper_than_a_recursion_could_go_are_walked() -> None:
    edges = {str(level): [str(level + 1)] for level in range(5_000)}
    assert find_cycle(edges, "0") is None
    assert low_level_codes(edges)["5000"] == 5_000


def test_bills_that_share_parts_at_every_level_are_walked_once() -> None:
    # Sixty levels of two items, each taking both below it: 2^60 ways down.
    edges = {
        f"{side}{level}": [f"L{level + 1}", f"R{level + 1}"] for level in range(60) for side in "LR"
    }
    assert find_cycle(edges, "L0") is None
    assert low_level_codes(edges)["R60"] == 60


NAMES = st.sampled_from("ABCDEFG")
GRAPHS = st.dictionaries(NAMES, st.lists(NAMES, max_size=4), max_size=7)


@given(edges=GRAPHS, start=NAMES)
def test_a_circle_found_is_one_that_really_stands_in_the_bills(
    edges: dict[str, list[str]], start: str
) -> None:
    path = find_cycle(edges, start)
    assume(path is not None)
    assert path is not None
    assert path[0] == path[-1]
    assert len(set(path)) == len(path) - 1
    assert all(below in edges[above] for above, below in pairwise(path))


@given(edges=GRAPHS)
def test_circles_are_found_exactly_when_a_second_implementation_finds_one(
    edges: dict[str, list[str]],
) -> None:
    has_circle = any(find_cycle(edges, start) for start in edges)
    assert has_circle == _standard_library_finds_a_circle(edges)


def _standard_library_finds_a_circle(edges: dict[str, list[str]]) -> bool:
    try:
        TopologicalSorter(edges).prepare()
    except CycleError:
        return True
    return False


# Levels


def test_levels_of_bills_in_a_circle_are_refused_with_the_path() -> None:
    with pytest.raises(InvalidInputError) as refused:
        low_level_codes({"TOP": ["A"], "A": ["B"], "B": ["A", "BELOW"]})
    assert refused.value.facts["path"] in (["A", "B", "A"], ["B", "A", "B"])


def test_an_item_named_twice_in_a_bill_counts_as_one_way_down() -> None:
    assert low_level_codes({"A": ["B", "B"]}) == {"A": 0, "B": 1}


def test_no_bills_have_no_levels() -> None:
    assert low_level_codes({}) == {}


# Edges only run from an earlier letter to a later one, so that no circle can arise.
LAYERED = st.lists(st.tuples(NAMES, NAMES).filter(lambda pair: pair[0] < pair[1]), max_size=15).map(
    lambda pairs: {above: [b for a, b in pairs if a == above] for above, _ in pairs}
)


@given(edges=LAYERED)
def test_a_level_is_one_below_the_lowest_item_that_takes_it(edges: dict[str, list[str]]) -> None:
    levels = low_level_codes(edges)
    expected = {
        item: max((levels[above] + 1 for above in edges if item in edges[above]), default=0)
        for item in levels
    }
    assert levels == expected
    assert levels.keys() == {*edges, *(item for below in edges.values() for item in below)}


@given(edges=LAYERED)
def test_levels_come_tops_first(edges: dict[str, list[str]]) -> None:
    levels = list(low_level_codes(edges).values())
    assert levels == sorted(levels)


# Difference and scaling


def test_a_difference_names_what_was_added_dropped_and_changed() -> None:
    before = {"RING": "2 a piece", "EYE": "2 a piece", "HOOK": "2 a piece"}
    after = {"HOOK": "3 a piece", "RING": "2 a piece", "BILL": "1 a piece"}
    assert compare(before, after) == Difference(
        added={"BILL": "1 a piece"},
        dropped={"EYE": "2 a piece"},
        changed={"HOOK": ("2 a piece", "3 a piece")},
    )


LINES = st.dictionaries(NAMES, st.integers(0, 2))


@given(before=LINES, after=LINES)
def test_a_difference_turns_the_earlier_bill_into_the_later(
    before: dict[str, int], after: dict[str, int]
) -> None:
    found = compare(before, after)
    kept = {key: line for key, line in before.items() if key not in found.dropped}
    replaced = {key: later for key, (_, later) in found.changed.items()}
    assert kept | replaced | found.added == after


def test_paint_scales_with_the_painted_area() -> None:
    assert scaled_paint(Decimal(120), 4_000, 3_000) == 90
    assert scaled_paint(Decimal(100), 3_000, 4_000) == Decimal("133.333333333")
    assert scaled_paint(Decimal(200), 3_000, 1_000) == Decimal("66.666666667")


def test_paint_for_no_area_is_none() -> None:
    assert scaled_paint(Decimal(120), 4_000, 0) == 0


@pytest.mark.parametrize(("from_area_mm2", "to_area_mm2"), [(0, 100), (-1, 100), (100, -1)])
def test_paint_cannot_be_scaled_from_no_area(from_area_mm2: int, to_area_mm2: int) -> None:
    with pytest.raises(InvalidInputError) as refused:
        scaled_paint(Decimal(120), from_area_mm2, to_area_mm2)
    assert refused.value.facts == {
        "from_area_mm2": str(from_area_mm2),
        "to_area_mm2": str(to_area_mm2),
    }


@given(per_piece=PER_PIECE, areas=st.tuples(st.integers(1, 10**5), st.integers(1, 10**5)))
def test_paint_scaled_there_and_back_is_what_it_was(
    per_piece: Decimal, areas: tuple[int, int]
) -> None:
    there = scaled_paint(per_piece, *areas)
    back = scaled_paint(there, areas[1], areas[0])
    # Half of the last place is lost on the way there, and grows by the ratio on the way back.
    grown = Fraction(areas[0], areas[1]) + 1
    assert abs(Fraction(back) - Fraction(per_piece)) <= grown / (2 * 10**9)
