"""A trace beside the bare driver running the very same statements."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, Final

from django.db import connection

from batches.trace.rules.drawing import laid_out
from batches.trace.rules.svg import as_svg
from batches.trace.selectors import Question, downstream, upstream
from batches.trace.selectors.pictures import LOTS_MAX, picture_of
from batches.trace.selectors.rows import Downstream, Upstream
from batches.trace.selectors.starts import start_of_lot
from batches.trace.selectors.walking import walk
from inventory.stock.models import Lot
from inventory.stock.selectors.lineage import Direction, flow_sides, reached_ids
from inventory.stock.selectors.lots import as_json
from tests.bench.bare_entries import connect
from tests.bench.figures import Figure
from tests.bench.growth import best, boxes_to_follow, lots_to_follow

TWO_STEPS: Final = round(1 / 1.5, 2)
"""Ids, then both sides of their postings."""

BY_ORM: Final = 0.25
"""The same with the details of lots and postings as rows; and the whole answer, for comparison."""

DRAWING_SECONDS: Final = 0.5

Statement = tuple[str, Any]


def rows() -> Iterator[Figure]:
    """Downstream of lots, upstream of boxes; the first few of each together."""
    lots, boxes = lots_to_follow(), boxes_to_follow()
    ids = list(Lot.objects.filter(code__in=lots).values_list("pk", flat=True))
    traces: dict[str, list[Callable[[], Downstream | Upstream]]] = {
        "downstream of 5 lots": [partial(downstream, Question(lot=code)) for code in lots],
        "upstream of 5 boxes": [partial(upstream, Question(box=code)) for code in boxes],
    }
    yield _beside("downstream of 5 lots, ids and flows", partial(_two_steps, ids), TWO_STEPS)
    yield _beside("downstream of 5 lots, with details", partial(_details, lots), BY_ORM)
    for what, asks in traces.items():
        yield _beside(f"{what}, whole answers with shares, as JSON", partial(_all, asks), 0)
    answers = [ask() for ask in traces["downstream of 5 lots"]]
    drawn = max(
        (one for one in answers if len(one.nodes) <= LOTS_MAX), key=lambda one: len(one.nodes)
    )
    took = best(lambda: as_svg(laid_out(picture_of(drawn))))
    yield Figure(f"a drawing of {len(drawn.nodes)} lots", took, DRAWING_SECONDS, 1)


def _two_steps(ids: list[int]) -> None:
    for lot_id in ids:
        flow_sides(reached_ids([lot_id], Direction.DOWNSTREAM), Direction.DOWNSTREAM)


def _details(lots: list[str]) -> None:
    for code in lots:
        walk(start_of_lot(code), Direction.DOWNSTREAM, depth_max=None, item_code=None)


def _all(asks: list[Callable[[], Any]]) -> None:
    for ask in asks:
        as_json(ask())


def _beside(what: str, ours: Callable[[], None], goal: float) -> Figure:
    statements = _statements_of(ours)
    bare = connect()

    def again() -> None:
        cursor = bare.cursor()
        for sql, params in statements:
            cursor.execute(sql, params).fetchall()

    figure = Figure(f"{what} ({len(statements)} statements)", best(ours), best(again), goal)
    bare.close()
    return figure


def _statements_of(work: Callable[[], None]) -> list[Statement]:
    """What it asks the database, as the bare driver takes it; snapshots are left out."""
    found: list[Statement] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - as Django calls it
        if sql.lstrip().upper().startswith(("SELECT", "WITH")):
            found.append(
                (sql.replace("%s", "?") if connection.vendor == "sqlite" else sql, params or ())
            )
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        work()
    return found
