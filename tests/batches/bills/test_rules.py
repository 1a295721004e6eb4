"""Arithmetic of bills: what a line takes, circles, levels, cost, difference and scaling."""

from decimal import Decimal
from fractions import Fraction
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from batches.bills.rules import (
    BillFigures,
    Difference,
    LineFigures,
    UnitCost,
    compare,
    find_cycle,
    items_over_share,
    line_need_base,
    low_level_codes,
    need_per_good_piece,
    needs_below,
    rolled_up_cost,
    scaled_paint,
    share_base_max,
    shares_within,
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
    assert shares_within(whole_base=10_001, taken_base=most, largest_ratio=limits)
    assert not shares_within(whole_base=10_001, taken_base=more, largest_ratio=limits)


def test_alternatives_over_their_share_are_named_and_those_without_a_limit_are_not() -> None:
    over = items_over_share(
        whole_base=100,
        taken_base={"RESIN": 40, "REGRIND": 30, "OLD-RESIN": 30},
        largest_ratio={"REGRIND": Decimal("0.29"), "OLD-RESIN": Decimal("0.3")},
    )
    assert over == ("REGRIND",)


def test_nothing_of_an_alternative_is_within_any_share_of_nothing() -> None:
    limits = {"REGRIND": Decimal("0.15")}
    assert shares_within(whole_base=0, taken_base={"REGRIND": 0}, largest_ratio=limits)


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


# Needs and cost

LURE = BillFigures(
    lines=(
        LineFigures(item="BODY", per_piece_base=Decimal(1)),
        LineFigures(item="HOOK", per_piece_base=Decimal(2)),
    )
)
BODY = BillFigures(
    lines=(
        LineFigures(item="HALF", per_piece_base=Decimal(2)),
        LineFigures(item="GLUE", per_piece_base=Decimal(80), per_batch_base=4_000),
        LineFigures(item="PAINT", per_piece_base=Decimal(100), loss_ratio=Decimal("0.6")),
    ),
    batch_pieces=200,
    scrap_ratio=Decimal("0.2"),
)
BILLS = {"LURE": LURE, "BODY": BODY}
COSTS = {
    "HOOK": UnitCost(micro_per_base=Fraction(30_000), source="lot H-1"),
    "HALF": UnitCost(micro_per_base=Fraction(50_000), source="lot A-7"),
    "GLUE": UnitCost(micro_per_base=Fraction(100, 3), source="offer of the supplier"),
    "PAINT": UnitCost(micro_per_base=Fraction(60), source="lot P-4"),
}


def test_a_good_piece_needs_its_losses_its_scrap_and_its_part_of_the_batch() -> None:
    # 0.8 good a piece started: 2 / 0.8 halves, 80 / 0.8 + 4,000 / 200 glue, 100 / 0.4 / 0.8 paint.
    needs = {line.item: need_per_good_piece(line=line, bill=BODY) for line in BODY.lines}
    assert needs == {"HALF": Fraction(5, 2), "GLUE": 120, "PAINT": Fraction(625, 2)}


def test_needs_below_reach_down_through_every_level() -> None:
    assert needs_below(bills=BILLS, item="LURE") == {
        "BODY": 1,
        "HOOK": 2,
        "HALF": Fraction(5, 2),
        "GLUE": 120,
        "PAINT": Fraction(625, 2),
    }


def test_an_item_without_a_bill_needs_nothing() -> None:
    assert needs_below(bills=BILLS, item="HOOK") == {}


def test_cost_rolls_up_level_by_level_and_names_where_each_figure_comes_from() -> None:
    cost = rolled_up_cost(bills=BILLS, unit_costs=COSTS, item="LURE")
    # Body: 2.5 * 50,000 + 120 * 100 / 3 + 312.5 * 60 = 125,000 + 4,000 + 18,750.
    assert [(row.level, row.item, row.micro, row.source) for row in cost.rows] == [
        (1, "BODY", Fraction(147_750), "its bill"),
        (2, "HALF", Fraction(125_000), "lot A-7"),
        (2, "GLUE", Fraction(4_000), "offer of the supplier"),
        (2, "PAINT", Fraction(18_750), "lot P-4"),
        (1, "HOOK", Fraction(60_000), "lot H-1"),
    ]
    assert cost.micro_per_piece == 207_750
    assert cost.unknown == ()


def test_cost_is_exact_until_it_is_read() -> None:
    mix = BillFigures(lines=(LineFigures(item="GLUE", per_piece_base=Decimal("0.5")),))
    cost = rolled_up_cost(bills={"MIX": mix}, unit_costs=COSTS, item="MIX")
    assert cost.micro_per_piece == Fraction(50, 3)
    assert cost.rounded_micro == 17


def test_by_products_carry_their_share_of_the_value_off() -> None:
    runner = BillFigures(
        lines=(LineFigures(item="HOOK", per_piece_base=Decimal(1)),),
        by_product_ratio=Decimal("0.1"),
    )
    cost = rolled_up_cost(bills={"PART": runner}, unit_costs=COSTS, item="PART")
    assert cost.micro_per_piece == 27_000


def test_cost_with_an_unknown_price_is_no_sum_and_names_the_item() -> None:
    known = {item: cost for item, cost in COSTS.items() if item != "GLUE"}
    cost = rolled_up_cost(bills=BILLS, unit_costs=known, item="LURE")
    assert (cost.micro_per_piece, cost.rounded_micro, cost.unknown) == (None, None, ("GLUE",))
    assert [(row.item, row.micro, row.source) for row in cost.rows] == [
        ("BODY", None, "its bill"),
        ("HALF", 125_000, "lot A-7"),
        ("GLUE", None, "unknown"),
        ("PAINT", 18_750, "lot P-4"),
        ("HOOK", 60_000, "lot H-1"),
    ]


def test_the_bill_of_an_item_comes_before_its_unit_cost() -> None:
    bought = {**COSTS, "BODY": UnitCost(micro_per_base=Fraction(1), source="offer")}
    assert rolled_up_cost(bills=BILLS, unit_costs=bought, item="LURE").micro_per_piece == 207_750


def test_an_item_without_bill_costs_its_unit_cost_or_is_unknown() -> None:
    assert rolled_up_cost(bills={}, unit_costs=COSTS, item="HOOK").micro_per_piece == 30_000
    assert rolled_up_cost(bills={}, unit_costs={}, item="HOOK").unknown == ("HOOK",)


def test_cost_of_bills_in_a_circle_is_refused() -> None:
    circle = {
        "A": BillFigures(lines=(LineFigures(item="B", per_piece_base=Decimal(1)),)),
        "B": BillFigures(lines=(LineFigures(item="A", per_piece_base=Decimal(1)),)),
    }
    with pytest.raises(InvalidInputError):
        rolled_up_cost(bills=circle, unit_costs={}, item="A")


@st.composite
def layered_bills(draw: st.DrawFn) -> dict[str, BillFigures]:
    edges = draw(LAYERED)
    return {
        item: BillFigures(
            lines=tuple(
                LineFigures(
                    item=each,
                    per_piece_base=draw(PER_PIECE),
                    per_batch_base=draw(st.integers(0, 10**6)),
                    loss_ratio=draw(st.decimals("0", "0.9", places=2)),
                )
                for each in below
            ),
            batch_pieces=draw(st.integers(1, 5_000)),
            scrap_ratio=draw(st.decimals("0", "0.9", places=2)),
        )
        for item, below in edges.items()
    }


@given(bills=layered_bills(), item=NAMES)
def test_cost_is_the_cost_of_everything_bought_for_it(
    bills: dict[str, BillFigures], item: str
) -> None:
    prices = {
        code: UnitCost(micro_per_base=Fraction(ord(code)), source="offer") for code in "ABCDEFG"
    }
    cost = rolled_up_cost(bills=bills, unit_costs=prices, item=item)
    needs = needs_below(bills=bills, item=item) or {item: Fraction(1)}
    bought = sum(need * ord(code) for code, need in needs.items() if code not in bills)
    assert cost.micro_per_piece == bought


@given(bills=layered_bills(), item=NAMES)
def test_rows_of_a_cost_sheet_add_up_to_the_needs(bills: dict[str, BillFigures], item: str) -> None:
    cost = rolled_up_cost(bills=bills, unit_costs={}, item=item)
    needs = needs_below(bills=bills, item=item)
    summed = {code: sum(row.need_base for row in cost.rows if row.item == code) for code in needs}
    assert summed == needs


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
