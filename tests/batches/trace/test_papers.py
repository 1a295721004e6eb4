"""A trace on paper: every card on one page, no text over text, the tables whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from itertools import combinations
from typing import Any

import pypdfium2
import pytest
from hypothesis import given, settings

from batches.labels.pdf.traces import place_of, views_of, write_trace
from batches.labels.rules.papers_trace import TracedEdge, TracePaper
from batches.labels.rules.stock import STANDING, PrintJob
from batches.trace.rules.drawing import PAGE_HEIGHT, PAGE_WIDTH, Card, Drawing, Picture, laid_out
from batches.trace.selectors import Question, downstream
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run
from tests.batches.trace.test_drawing import pictures

Calling = Callable[[User], floor.Caller]
LETTER = STANDING["letter"]
LYING = replace(
    LETTER,
    page_width_um=LETTER.page_height_um,
    page_height_um=LETTER.page_width_um,
    label_width_um=LETTER.label_height_um,
    label_height_um=LETTER.label_width_um,
)
JOB = PrintJob(stock=LYING, dpi=600, shop_name="Test shop", is_demo=True)


def texts_of(page: Any) -> list[tuple[str, tuple[float, ...]]]:
    """Each line of text with its box (left, bottom, right, top)."""
    textpage = page.get_textpage()
    return [
        (each.extract().strip(), each.get_bounds())
        for each in page.get_objects(textpage=textpage)
        if isinstance(each, pypdfium2.PdfTextObj) and each.extract().strip()
    ]


def meeting(texts: list[tuple[str, tuple[float, ...]]]) -> list[tuple[str, str]]:
    """Lines that lie over one another by more than half a point."""
    return [
        (one, other)
        for (one, a), (other, b) in combinations(texts, 2)
        if a[0] + 0.5 < b[2] and b[0] + 0.5 < a[2] and a[1] + 0.5 < b[3] and b[1] + 0.5 < a[3]
    ]


def paper_of(picture: Picture, edges: int = 0) -> TracePaper:
    edge = TracedEdge(
        "2026-03-02 12:20", "GLUING G-1", "L-1 GLUE", "20 g", "L-2 BODY", "40 each", ""
    )
    return TracePaper(
        title=picture.title,
        as_of="2026-03-02 14:00",
        drawing=laid_out(picture),
        totals=(),
        edges=(edge,) * edges,
    )


def pages_written(paper: TracePaper) -> list[Any]:
    file = BytesIO()
    count = write_trace(paper, job=JOB, file=file)
    pdf = pypdfium2.PdfDocument(file.getvalue())
    assert len(pdf) == count
    return list(pdf)


@settings(max_examples=10, deadline=None)
@given(picture=pictures())
def test_every_card_is_on_one_page_and_no_text_lies_on_text(picture: Picture) -> None:
    found = [texts_of(page) for page in pages_written(paper_of(picture))]
    assert [meeting(texts) for texts in found] == [[]] * len(found)
    said = [text for texts in found for text, _ in texts]
    lots = [card.key for card in picture.cards if not card.is_event]
    assert sorted(text for text in said if text.startswith("lot-")) == sorted(lots)
    assert said.count("DEMO") == len(found)


def test_what_can_still_be_read_is_shrunk_to_one_page_and_the_rest_is_cut_in_parts() -> None:
    picture = Picture("A", "B", [])
    assert [view.scale for view in views_of(Drawing(picture))] == [1]
    fits = Drawing(picture, width=PAGE_WIDTH, height=PAGE_HEIGHT)
    assert [view.scale for view in views_of(fits)] == [0.8]
    row = [Card(key=f"lot-{n}", title=f"lot-{n}", lines=()) for n in range(9)]
    chain = Picture("A", "B", row, [(f"lot-{n}", f"lot-{n + 1}") for n in range(8)])
    assert [place_of(view) for view in views_of(laid_out(chain))] == [
        "row 1, column 1",
        "row 1, column 2",
    ]
    pages = pages_written(paper_of(chain))
    assert "part 2 of 2, row 1, column 2" in pages[1].get_textpage().get_text_range()


def test_any_script_and_long_tables_go_on_paper() -> None:
    card = Card(key="x", title="L-22", lines=("Köder 釣り針", "приманка"), is_start=True)
    pages = pages_written(paper_of(Picture("Where it went", "About it", [card]), edges=90))
    text = pages[0].get_textpage().get_text_range()
    assert "釣り針" in text
    assert "приманка" in text
    tables = [page.get_textpage().get_text_range() for page in pages[1:]]
    assert sum(table.count("GLUING G-1") for table in tables) == 90
    assert all("Lot taken" in table for table in tables)
    assert [meeting(texts_of(page)) for page in pages] == [[]] * len(pages)


@pytest.mark.parametrize(("stock", "size"), [("letter", (792, 612)), ("a4", (841.9, 595.3))])
def test_a_trace_is_a_pdf_of_drawing_totals_and_edges(
    stock: str, size: tuple[float, float], returned: Run, viewer: User, calling: Calling
) -> None:
    code = returned.body_first.code
    answer = calling(viewer).get("trace/downstream.pdf", lot=code, stock=stock)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="downstream-{code}.pdf"'
    pdf = pypdfium2.PdfDocument(answer.content)
    assert pdf[0].get_size() == pytest.approx(size, abs=0.5)
    said = [page.get_textpage().get_text_range() for page in pdf]
    assert f"Where lot {code} went" in said[0]
    assert "by share 39 pieces" in said[0]
    totals, edges = said[-2:]
    assert "What became of it" in totals
    assert "shipped" in totals
    trace = downstream(Question(lot=code))
    assert trace.edges is not None
    assert edges.count("PAINTING-1") == sum(edge.batch == "PAINTING-1" for edge in trace.edges)
    assert [meeting(texts_of(page)) for page in pdf] == [[]] * len(pdf)


def test_upstream_is_a_pdf_too_and_the_same_is_refused(
    run: Run, viewer: User, calling: Calling
) -> None:
    get = calling(viewer).get
    answer = get("trace/upstream.pdf", box="BOX-1")
    said = pypdfium2.PdfDocument(answer.content)[0].get_textpage().get_text_range()
    assert "What went into box BOX-1" in said
    assert get("trace/upstream.pdf").json()["code"] == "invalid_input"
    assert get("trace/upstream.pdf", box="NOSUCH").json()["code"] == "not_found"
    assert get("trace/upstream.pdf", box="BOX-1", fold="entries").json()["code"] == (
        "unknown_parameter"
    )
