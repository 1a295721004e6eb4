"""Drawings: columns in time, few crossings, nothing over anything, text that fits."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from batches.trace.errors import TraceTooLargeError
from batches.trace.rules.drawing import (
    CARD_WIDTH,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    Card,
    Drawing,
    Picture,
    laid_out,
    pages_of,
)
from batches.trace.rules.layers import columns_of, crossings, heights, in_order
from batches.trace.rules.svg import as_svg, cut, words_of
from batches.trace.selectors import Question, downstream, upstream
from batches.trace.selectors.pictures import DEPTH_DRAWN, LOTS_MAX, picture_of
from inventory.catalog.models import Item
from inventory.stock.models import Lot, PostingKind
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute
from tests.inventory.stock.ledgers import make_lots

Calling = Callable[[User], floor.Caller]
SVG = "{http://www.w3.org/2000/svg}"


def test_columns_go_on_from_what_leads_to_a_thing_and_sources_stand_close() -> None:
    links = [("resin", "half"), ("half", "body"), ("glue", "body"), ("body", "lure")]
    assert columns_of(["resin", "glue", "half", "body", "lure", "alone"], links) == {
        "resin": 0,
        "glue": 1,
        "half": 1,
        "body": 2,
        "lure": 3,
        "alone": 0,
    }


def test_crossings_are_counted_and_put_away() -> None:
    links = [("a", "z"), ("b", "y"), ("c", "x")]
    assert crossings([["a", "b", "c"], ["x", "y", "z"]], links) == 3
    ordered = in_order([["a", "b", "c"], ["x", "y", "z"]], links)
    assert crossings(ordered, links) == 0
    # Two that each lead to the same two cross once, however they stand (K2,2).
    both = [(a, b) for a in "ab" for b in "xy"]
    assert crossings(in_order([["a", "b"], ["x", "y"]], both), both) == 1


def test_heights_keep_order_and_distance_and_are_near_to_the_neighbors() -> None:
    columns = [["a"], ["x", "y", "z"]]
    links = [("a", "x"), ("a", "y"), ("a", "z")]
    found = heights(columns, links, dict.fromkeys("axyz", 10.0), gap=5)
    assert found == {"x": 0, "y": 15, "z": 30, "a": 15}


@st.composite
def pictures(draw: Any) -> Picture:
    """Lots and postings at random; some lots split."""
    cards: list[Card] = [Card(key="lot-0", title="lot-0", lines=("RESIN",), is_start=True)]
    parted = []
    for number in range(1, draw(st.integers(1, 25))):
        lots = [card.key for card in cards if not card.is_event]
        takes = draw(st.sets(st.sampled_from(lots), min_size=1, max_size=4))
        makes = [f"lot-{number}-{n}" for n in range(draw(st.integers(0, 4)))]
        lines = ("ITEM",) * draw(st.integers(0, 6))
        if len(takes) == 1 and draw(st.booleans()):
            parted += [(lot, makes[0]) for lot in takes if makes]
            makes = makes[:1]
        else:
            cards.append(
                Card(
                    key=f"posting-{number}",
                    title="BATCH",
                    lines=("GLUING",),
                    is_event=True,
                    takes=tuple((lot, "20.04 g") for lot in sorted(takes)),
                    makes=tuple((lot, "40 each") for lot in makes),
                )
            )
        cards += [Card(key=lot, title=lot, lines=lines) for lot in makes]
    return Picture("A title", "About it", cards, parted)


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    by_column: dict[float, list[Any]] = {}
    for placed in drawing.placed:
        by_column.setdefault(placed.left, []).append(placed)
    return [
        (one.card.key, other.card.key)
        for column in by_column.values()
        for one, other in combinations(column, 2)
        if one.top < other.top + other.card.height and other.top < one.top + one.card.height
    ]


def runs_across(drawing: Drawing) -> list[tuple[float, float, float]]:
    """Left, right and height of the straight parts of links."""
    return [
        (here[0], there[0], here[1])
        for curve in drawing.curves
        for number, (here, there) in enumerate(pairwise(curve))
        if number % 2
    ]


@settings(max_examples=60, deadline=None)
@given(picture=pictures())
def test_nothing_lies_over_anything_and_no_page_cuts_a_card(picture: Picture) -> None:
    drawing = laid_out(picture)
    assert len(drawing.placed) == len(picture.cards)
    assert overlapping(drawing) == []
    at = {placed.card.key: placed for placed in drawing.placed}
    assert [
        (placed.card.key, y)
        for left, _, y in runs_across(drawing)
        for placed in drawing.placed
        if placed.left == left and placed.top < y < placed.top + placed.card.height
    ] == []
    for card in picture.cards:
        for key, _ in card.takes:
            assert at[key].left + CARD_WIDTH < at[card.key].left
        for key, _ in card.makes:
            assert at[card.key].left + CARD_WIDTH < at[key].left
    for placed in drawing.placed:
        last = placed.top + placed.card.height
        assert placed.top // PAGE_HEIGHT == (last - 0.001) // PAGE_HEIGHT
        assert placed.left // PAGE_WIDTH == (placed.left + CARD_WIDTH) // PAGE_WIDTH
        assert (placed.top // PAGE_HEIGHT, placed.left // PAGE_WIDTH) in pages_of(drawing)


@given(text=st.text("Wlm1 .-aA@ÄЖ", max_size=60), is_bold=st.booleans())
def test_text_is_cut_to_what_fits_by_the_widths_of_a_real_face(text: str, is_bold: bool) -> None:  # noqa: FBT001 - drawn
    face = "VeraBd" if is_bold else "Vera"
    pdfmetrics.registerFont(TTFont(face, f"{face}.ttf"))
    shown = cut(text, space=138, size=7, is_bold=is_bold)
    latin = shown.replace("Ж", "W")  # which the face lacks
    assert pdfmetrics.stringWidth(latin, face, 7) <= 138 * (1.1 if "Ж" in text else 1)
    assert shown in {" ".join(text.split())} or shown.endswith("…")


def test_long_words_on_a_card_end_in_an_ellipsis_within_it() -> None:
    card = Card(key="x", title="W" * 40, lines=("a short one", "i" * 90))
    words = list(words_of(card))
    assert words[0].text.endswith("W…")
    assert words[1].text == "a short one"
    assert words[2].text.endswith("i…")


def test_a_trace_is_drawn_with_amounts_states_and_times_in_words(
    returned: Run, viewer: User, calling: Calling
) -> None:
    answer = calling(viewer).get("trace/downstream/", lot=returned.body_first.code, format="svg")
    assert answer["Content-Type"] == "image/svg+xml"
    assert 'inline; filename="downstream-' in answer["Content-Disposition"]
    root = ElementTree.fromstring(answer.content)  # noqa: S314 - our own
    assert root.attrib["role"] == "img"
    title, about = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert about is not None
    assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], about.attrib["id"]]
    assert title.text == f"Where lot {returned.body_first.code} went"
    words = {text.text for text in root.iter(f"{SVG}text")}
    assert words >= {
        "PAINTING-1",
        "2026-03-02 12:40",  # the shop's zone
        "40 pieces",
        "by share 39 pieces",
        "up to 40 pieces",
        "returned RETURNS: 2 pieces",
        "shipped HEN: 22 pieces",
        "QUARANTINED",
        "boxed BOX-2: 24 pieces",
    }
    assert b"style=" not in answer.content


def test_upstream_names_suppliers_and_a_scrapped_posting_says_so(run: Run, lead: User) -> None:
    floor_picture = picture_of(upstream(Question(box="BOX-1")))
    lines = {line for card in floor_picture.cards for line in card.lines}
    assert "from GLUES GA-17" in lines
    assert floor_picture.title == "What went into box BOX-1"
    eye = Item.objects.get(code="EYE")
    make_lots(
        taken={Lot.objects.get(item=eye).pk: 3},
        made=[],
        item=eye,
        stamp=at_minute(lead, 90),
        kind=PostingKind.MADE,
    )
    lost = picture_of(downstream(Question(lot=Lot.objects.get(item=eye).code)))
    assert any("nothing came of it: all scrapped" in card.lines for card in lost.cards)


def test_names_cannot_break_out_of_the_drawing() -> None:
    nasty = Card(key="x", title='</text><script>&"', lines=("\x00\ud800",))
    svg = as_svg(laid_out(Picture("<b>", "a & b", [nasty])))
    root = ElementTree.fromstring(svg)  # noqa: S314 - our own
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == {
        *("svg", "title", "desc", "path", "g", "rect", "text"),
    }
    assert "\ud800" not in svg


def test_what_is_far_is_not_drawn_and_that_is_said(run: Run, lead: User) -> None:
    hook = Item.objects.get(code="HOOK-6")
    given_all: Any = {"item": hook, "kind": PostingKind.MADE}
    first = Lot.objects.get(item=hook)
    last = first
    for minute in range(DEPTH_DRAWN + 2):
        make_lots(taken={last.pk: 1}, made=[1], stamp=at_minute(lead, 100 + minute), **given_all)
        last = Lot.objects.latest("id")
    picture = picture_of(upstream(Question(lot=last.code)))
    assert sum(not card.is_event for card in picture.cards) == DEPTH_DRAWN + 1
    assert f"Not drawn: 2 lots more than {DEPTH_DRAWN} postings away." in picture.about


def test_too_many_lots_for_a_drawing_are_refused_with_a_way_out(run: Run, lead: User) -> None:
    hook = Item.objects.get(code="HOOK-6")
    first = Lot.objects.get(item=hook)
    make_lots(
        taken={first.pk: LOTS_MAX},
        made=[1] * LOTS_MAX,
        item=hook,
        stamp=at_minute(lead, 100),
        kind=PostingKind.MADE,
    )
    with pytest.raises(TraceTooLargeError) as refused:
        picture_of(downstream(Question(lot=first.code)))
    assert refused.value.facts["most"] == LOTS_MAX
