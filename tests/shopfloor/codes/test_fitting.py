"""Symbols fit their space in whole dots, or are split, moved or refused: never shrunk."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.errors import Gs1PartnersError, SymbolSpaceError, SymbolTextError
from shopfloor.codes.fitting import (
    DPIS,
    LIMITS,
    Outcome,
    Space,
    SymbolPlan,
    Use,
    symbol_plan,
)
from shopfloor.codes.gs1.elements import ElementString, element_string, read_elements
from shopfloor.codes.symbols import SymbolKind, size_modules
from tests.shopfloor.codes.element_strings import any_elements

BARS, MATRIX, QR = SymbolKind.CODE128, SymbolKind.DATAMATRIX, SymbolKind.QR
ARTICLE = read_elements("(01)09521234543213(17)271231(10)LOT-42A8")
BOX = read_elements("(00)395212340000000489(02)09521234543213(37)48(10)L260114A")


def planned(
    content: ElementString | str,
    width_dots: int,
    height_dots: int = 1200,
    *,
    kinds: tuple[SymbolKind, ...] = (BARS, MATRIX),
    dpi: int = 203,
    use: Use = Use.DISTRIBUTION,
) -> SymbolPlan:
    return symbol_plan(content, kinds=kinds, space=Space(width_dots, height_dots), dpi=dpi, use=use)


# 203 dpi: 4 dots are 0.5005 mm, 3 would be 0.375. 300: 6 dots 0.508. 600: 12 dots 0.508.
@pytest.mark.parametrize(("dpi", "dots"), [(203, 4), (300, 6), (600, 12)])
def test_the_least_module_of_bars_in_distribution_is_this_many_dots(dpi: int, dots: int) -> None:
    modules = size_modules(BARS, ARTICLE.symbol_text).width
    fits = planned(ARTICLE, modules * dots, 2000, kinds=(BARS,), dpi=dpi)
    assert (fits.outcome, fits.symbols[0].module_dots) == (Outcome.WHOLE, dots)
    assert fits.symbols[0].width_dots == modules * dots


# 203 dpi: 6 dots are 0.751 mm. 300: 9 dots 0.762. 600: 18 dots 0.762.
@pytest.mark.parametrize(("dpi", "dots"), [(203, 6), (300, 9), (600, 18)])
def test_the_least_module_of_a_data_matrix_in_distribution_is_this_many_dots(
    dpi: int, dots: int
) -> None:
    side = size_modules(MATRIX, ARTICLE.symbol_text).width * dots
    fits = planned(ARTICLE, side, side, kinds=(MATRIX,), dpi=dpi)
    assert (fits.symbols[0].module_dots, fits.symbols[0].height_dots) == (dots, side)
    with pytest.raises(SymbolSpaceError):
        planned(ARTICLE, side - 1, side, kinds=(MATRIX,), dpi=dpi)
    with pytest.raises(SymbolSpaceError):
        planned(ARTICLE, side, side - 1, kinds=(MATRIX,), dpi=dpi)


def test_what_is_a_dot_too_wide_is_split_over_two_symbols_that_obey_the_rules() -> None:
    width = size_modules(BARS, ARTICLE.symbol_text).width * 4
    split = planned(ARTICLE, width - 1)
    assert split.outcome is Outcome.SPLIT
    assert [symbol.human for symbol in split.symbols] == [
        "(01)09521234543213(17)271231",
        "(10)LOT-42A8",
    ]
    assert [read_elements(symbol.text).data for symbol in split.symbols] == [
        "010952123454321317271231",
        "10LOT-42A8",
    ]


def test_the_number_of_a_box_stands_alone_and_lowest() -> None:
    assert not BOX.fits_gs1_128
    split = planned(BOX, 1400)
    assert split.outcome is Outcome.SPLIT
    assert [symbol.human for symbol in split.symbols] == [
        "(02)09521234543213(37)48(10)L260114A",
        "(00)395212340000000489",
    ]


def test_what_two_symbols_cannot_hold_moves_into_another_kind() -> None:
    moved = planned(ARTICLE, 300)
    assert moved.outcome is Outcome.MOVED
    assert [symbol.kind for symbol in moved.symbols] == [MATRIX]
    assert moved.symbols[0].human == ARTICLE.human


def test_bars_that_are_too_high_move_too() -> None:
    # Two symbols of 254 dots (31.75 mm) and nothing between do not fit 507.
    width = size_modules(BARS, ARTICLE.symbol_text).width * 4 - 1
    assert planned(ARTICLE, width, 508).outcome is Outcome.SPLIT
    assert planned(ARTICLE, width, 507).outcome is Outcome.MOVED


def test_room_for_the_text_below_is_kept_free() -> None:
    space = Space(2000, 284)
    plan = symbol_plan(
        ARTICLE, kinds=[BARS], space=space, dpi=203, use=Use.DISTRIBUTION, text_dots=30
    )
    assert plan.outcome is Outcome.WHOLE
    with pytest.raises(SymbolSpaceError):
        symbol_plan(ARTICLE, kinds=[BARS], space=space, dpi=203, use=Use.DISTRIBUTION, text_dots=31)


def test_a_refusal_names_the_room_that_each_kind_needs_and_it_is_enough() -> None:
    with pytest.raises(SymbolSpaceError) as refused:
        planned(ARTICLE, 100, 100)
    needs = refused.value.facts["needs"]
    assert isinstance(needs, list)
    assert [(need["symbol"], need["symbols"]) for need in needs] == [
        ("Code 128", 1),
        ("Code 128", 2),
        ("Data Matrix", 1),
    ]
    outcomes = [planned(ARTICLE, n["width_dots"], n["height_dots"]).outcome for n in needs]
    assert outcomes == [Outcome.WHOLE, Outcome.SPLIT, Outcome.MOVED]
    assert f"{needs[2]['width_mm']} x {needs[2]['height_mm']} mm" in refused.value.detail


def test_in_the_shop_modules_may_be_smaller() -> None:
    width = size_modules(BARS, "L-3K7Q").width * 2
    plan = planned("L-3K7Q", width, kinds=(BARS,), use=Use.SHOP)
    assert (plan.symbols[0].module_dots, plan.symbols[0].human) == (2, "L-3K7Q")
    with pytest.raises(SymbolSpaceError):
        planned("L-3K7Q", width, kinds=(BARS,), use=Use.DISTRIBUTION)


def test_plain_text_is_never_split() -> None:
    text = "HTTPS://SHOP.EXAMPLE/S/L-3K7Q"
    assert planned(text, 300, 300, kinds=(BARS, QR), use=Use.SHOP).symbols[0].kind is QR


def test_a_gs1_128_is_at_most_so_wide_whatever_the_label() -> None:
    longest = element_string(
        {"01": "09521234543213", "10": "AbCdEfGhIjK", "21": "aBcDeFgHiJkLmNoP"}
    )
    plan = planned(longest, 5000, kinds=(BARS,))
    assert plan.outcome is Outcome.SPLIT
    assert all(symbol.width_dots * 25.4 / 203 <= 165.1 for symbol in plan.symbols)


def test_what_no_bars_can_carry_is_refused_in_words_when_there_is_no_other_kind() -> None:
    with pytest.raises(SymbolTextError):
        planned(element_string({"91": "A" * 60}), 5000, kinds=(BARS,))


def test_partners_are_judged_over_all_symbols_on_the_thing() -> None:
    contents = read_elements("(02)09521234543213(37)48")
    with pytest.raises(Gs1PartnersError):
        planned(contents, 2000)
    plan = symbol_plan(
        contents,
        kinds=[BARS],
        space=Space(2000, 300),
        dpi=203,
        use=Use.LOGISTICS,
        beside=[read_elements("(00)395212340000000489")],
    )
    assert plan.outcome is Outcome.WHOLE


@given(
    content=any_elements(length_max=80),
    width_dots=st.integers(50, 2500),
    height_dots=st.integers(50, 2500),
    dpi=st.sampled_from(DPIS),
    use=st.sampled_from(Use),
)
def test_nothing_leaves_its_space_or_shrinks_under_its_least_module(
    content: ElementString, width_dots: int, height_dots: int, dpi: int, use: Use
) -> None:
    try:
        plan = planned(content, width_dots, height_dots, dpi=dpi, use=use)
    except SymbolSpaceError:
        return
    assert all(symbol.width_dots <= width_dots for symbol in plan.symbols)
    assert sum(symbol.height_dots for symbol in plan.symbols) <= height_dots
    for symbol in plan.symbols:
        least = LIMITS[use].module_min * (1 if symbol.kind is BARS else 1.5)
        assert symbol.module_dots * 25_400_000 / dpi >= least
        assert (
            symbol.width_dots == symbol.module_dots * size_modules(symbol.kind, symbol.text).width
        )
    carried = [e for symbol in plan.symbols for e in read_elements(symbol.text).elements]
    assert set(carried) == set(content.elements)
