"""Needs and material cost through every level of the bills."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.bills.rules import (
    BillFigures,
    LineFigures,
    UnitCost,
    need_per_good_piece,
    needs_below,
    rolled_up_cost,
)
from shopfloor.errors import InvalidInputError

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


def test_cost_is_exact() -> None:
    mix = BillFigures(lines=(LineFigures(item="GLUE", per_piece_base=Decimal("0.5")),))
    cost = rolled_up_cost(bills={"MIX": mix}, unit_costs=COSTS, item="MIX")
    assert cost.micro_per_piece == Fraction(50, 3)


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
    assert (cost.micro_per_piece, cost.unknown) == (None, ("GLUE",))
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


NAMES = st.sampled_from("ABCDEFG")
PER_PIECE = st.decimals("0", "100000", places=9)
# Edges only run from an earlier letter to a later one, so that no circle can arise.
LAYERED = st.lists(st.tuples(NAMES, NAMES).filter(lambda pair: pair[0] < pair[1]), max_size=15).map(
    lambda pairs: {above: [b for a, b in pairs if a == above] for above, _ in pairs}
)


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
