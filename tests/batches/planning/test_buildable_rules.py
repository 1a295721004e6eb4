"""What can be built, on paper: against trying every plan, and against figures done by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from batches.planning.rules.buildable import Limit, best, limits, missing_for_one_more, with_more
from batches.planning.rules.making import Recipe, Shop, StandIn, Take, walk
from batches.planning.rules.program import PIECES_CAP, Goal, Question
from tests.batches.planning.small_shops import PIECES_MAX, best_by_trying, can_be_made, small_shop
from tests.bench.buildable import mixed_shop

ONE = Fraction(1)

# A lure of two hooks, a ring and a painted body; a body takes 500 uL and 5000 uL once a batch.
LURES = Shop(
    stock_base={"HOOK": 500, "RING": 230, "PAINT": 65_000, "PAINTED": 20, "BLANK": 400},
    recipes={
        "LURE": Recipe(
            takes=(
                Take(item="HOOK", per_piece=2 * ONE),
                Take(item="RING", per_piece=ONE),
                Take(item="PAINTED", per_piece=ONE),
            ),
            minutes=Fraction(3, 2),
        ),
        "PAINTED": Recipe(
            takes=(
                Take(item="BLANK", per_piece=ONE),
                Take(item="PAINT", per_piece=500 * ONE, per_batch_base=5000),
            ),
            scrap_ratio=Fraction(1, 10),
            minutes=Fraction(1),
        ),
    },
)


def asked(shop: Shop = LURES, minutes_max: Fraction | None = None, **goals: Goal) -> Question:
    return Question(shop=shop, goals=goals or {"LURE": Goal(1)}, minutes_max=minutes_max)


def pieces(question: Question) -> dict[str, int]:
    built = best(question)
    assert built is not None
    assert built.is_best
    assert built.walk.short_base == {}
    return dict(built.pieces)


def test_the_most_of_one_lure_is_what_its_paint_allows_beside_the_painted_ones() -> None:
    # 60,000 uL paint 120 bodies, of which 108 come out good; 20 stand painted already.
    assert pieces(asked()) == {"LURE": 128}


def test_each_batch_is_named_first_things_first_with_what_it_takes() -> None:
    built = best(asked())
    assert built is not None
    assert [(run.item, run.good, run.worked) for run in built.walk.runs] == [
        ("PAINTED", 108, 120),
        ("LURE", 128, 128),
    ]
    assert dict(built.walk.runs[0].takes_base) == {"BLANK": 120, "PAINT": 65_000}
    assert built.walk.left_base["HOOK"] == 500 - 256


def test_what_each_item_alone_would_allow_is_told_tightest_first() -> None:
    assert limits(asked(), "LURE") == [
        Limit("PAINT", 128),
        Limit("RING", 230),
        Limit("HOOK", 250),
        Limit("BLANK", 380),
    ]


def test_one_more_pack_gives_as_much_as_the_next_bottleneck_lets_it() -> None:
    # 40,000 uL more paint 80 bodies more, 72 of them good.
    built = best(asked())
    assert built is not None
    more = with_more(asked(), built, item="PAINT", more_base=40_000)
    plenty = with_more(asked(), built, item="PAINT", more_base=10_000_000)
    assert (more.pieces["LURE"], plenty.pieces["LURE"]) == (200, 230)


def test_what_is_short_for_one_more_is_named_with_how_much() -> None:
    built = best(asked())
    assert built is not None
    # 109 good take 122 worked on: 66,000 uL.
    assert missing_for_one_more(asked(), built) == {"LURE": {"PAINT": 1000}}


def test_one_more_hour_makes_what_an_hour_makes() -> None:
    question = asked(minutes_max=Fraction(60))
    built = best(question)
    assert built is not None
    # 20 painted ones in half an hour; the other half makes 11 more: 16.5 + 13 minutes.
    assert built.pieces == {"LURE": 31}
    assert with_more(question, built, more_minutes=40).pieces == {"LURE": 46}


def test_bench_hours_end_it_when_they_are_short() -> None:
    # 128 lures take 192 + 120 minutes. With 100: 20 lures of painted ones take 30, one more takes
    # 1.5 and its body 1 or 2: 70 / (1.5 + 1 / 0.9), with whole bodies 46 worked on are 41 good.
    question = asked(minutes_max=Fraction(100))
    assert pieces(question) == {"LURE": 46}
    assert walk(LURES, {"LURE": 47}).minutes(LURES.recipes) > 100


def test_a_stand_in_goes_no_further_than_its_share_and_stands_in_only_when_needed() -> None:
    half = Recipe(
        takes=(
            Take(
                item="RESIN",
                per_piece=4200 * ONE,
                per_batch_base=150_000,
                stand_ins=(StandIn("REGRIND", Fraction(1, 5)),),
            ),
        )
    )
    scarce = Shop(stock_base={"RESIN": 1_000_000, "REGRIND": 10**9}, recipes={"HALF": half})
    # Four fifths of the need are 1,000,000 mg at 1,250,000 mg: 261 pieces and the purge.
    assert pieces(asked(scarce, HALF=Goal(1))) == {"HALF": 261}
    few = best(asked(scarce, HALF=Goal(1, most=100)))
    assert few is not None
    assert dict(few.walk.runs[0].takes_base) == {"RESIN": 570_000}


def test_two_lures_share_hooks_and_the_worthier_mix_wins() -> None:
    shop = Shop(
        stock_base={"HOOK": 7, "EYE": 8},
        recipes={
            "A": Recipe(takes=(Take(item="HOOK", per_piece=3 * ONE),)),
            "B": Recipe(
                takes=(Take(item="HOOK", per_piece=2 * ONE), Take(item="EYE", per_piece=4 * ONE))
            ),
        },
    )
    # Two A are worth 20; an A and two B take 7 hooks and 8 eyes and are worth 10 + 12.
    assert pieces(asked(shop, A=Goal(10), B=Goal(6))) == {"A": 1, "B": 2}
    assert pieces(asked(shop, A=Goal(10), B=Goal(6, most=1))) == {"A": 2, "B": 0}
    assert pieces(asked(shop, A=Goal(10), B=Goal(0, most=3, least=2))) == {"A": 1, "B": 2}
    assert best(asked(shop, A=Goal(10), B=Goal(0, most=3, least=3))) is None


def test_without_time_to_prove_it_a_near_plan_says_what_none_can_beat() -> None:
    shop, goals = mixed_shop(Random("12"), 12)  # noqa: S311 - not a secret
    built = best(Question(shop=shop, goals=goals, seconds_max=0.0))
    assert built is not None
    assert built.walk.short_base == {}
    assert not built.is_best
    assert 0.8 * built.value_max < built.value < built.value_max


def test_a_lure_that_costs_more_than_it_brings_is_not_built() -> None:
    assert pieces(asked(LURE=Goal(-5))) == {"LURE": 0}


def test_without_end_there_is_an_end() -> None:
    shop = replace(LURES, stock_base=dict.fromkeys(LURES.stock_base, 10**15))
    assert pieces(asked(shop)) == {"LURE": PIECES_CAP}


def test_nothing_on_the_shelf_builds_nothing() -> None:
    assert pieces(asked(replace(LURES, stock_base={}))) == {"LURE": 0}


@pytest.mark.parametrize("seed", range(100))
def test_the_best_plan_is_as_good_as_any_that_trying_all_finds(seed: int) -> None:
    chance = Random(seed)  # noqa: S311 - not a secret
    shop = small_shop(chance)
    values = {item: chance.randint(1, 20) for item in shop.recipes if item.startswith("L")}
    minutes_max = chance.choice((None, None, Fraction(chance.randint(0, 30))))
    goals = {item: Goal(value, PIECES_MAX) for item, value in values.items()}
    built = best(Question(shop=shop, goals=goals, minutes_max=minutes_max))
    assert built is not None
    assert built.is_best
    assert can_be_made(shop, built.pieces, minutes_max)
    assert built.value == best_by_trying(shop, values, minutes_max)


@pytest.mark.parametrize("seed", range(30))
def test_more_on_the_shelf_never_builds_fewer(seed: int) -> None:
    chance = Random(f"more {seed}")  # noqa: S311 - not a secret
    shop = small_shop(chance)
    goals = {item: Goal(1) for item in shop.recipes if item.startswith("L")}
    question = Question(shop=shop, goals=goals)
    item = chance.choice(sorted(shop.stock_base))
    stock = {**shop.stock_base, item: shop.stock_base[item] + chance.randint(1, 9)}
    before, after = best(question), best(replace(question, shop=replace(shop, stock_base=stock)))
    assert before is not None
    assert after is not None
    assert after.value >= before.value
