"""A trace as a picture, of the rows of its answer. No statement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from graphlib import TopologicalSorter
from typing import Final

from django.conf import settings

from batches.trace.errors import TraceTooLargeError
from batches.trace.rules.drawing import Card, Picture
from batches.trace.selectors.became import SCRAPPED
from batches.trace.selectors.rows import Downstream, EdgeRow, NodeRow, Upstream, WhereRow
from inventory.stock.models import Disposition, Grade, PostingKind
from inventory.stock.selectors.amounts import in_words
from shopfloor.days import shop_zone

LOTS_MAX: Final = 400
"""More than that nobody reads on a drawing."""

DEPTH_DRAWN: Final = 8
"""Further away, what is ground up and molded again goes on for years, a column or two at a time."""

PARTINGS: Final = {PostingKind.SPLIT, PostingKind.MOVED}
WAYS_MAX: Final = 3
"""What became of a lot is told in so many lines."""

ELSEWHERE: Final = frozenset({"used", "parted", SCRAPPED})
"""What became of what other cards show."""


def picture_of(answer: Upstream | Downstream) -> Picture:
    """Cards for lots and postings; what was only split or moved hangs together without one.

    Raises:
        TraceTooLargeError: more lots than `LOTS_MAX`.
    """
    nodes = near(answer)
    if len(nodes) > LOTS_MAX:
        raise TraceTooLargeError(
            f"A drawing has at most {LOTS_MAX} lots; this trace has {len(nodes):,}. Ask for one "
            "item with item=, for the nearest with depth=, or take it as JSON or a sheet.",
            most=LOTS_MAX,
            of="lots",
            narrow_by=["item", "depth"],
        )
    cards, links = cards_of(answer, nodes)
    return Picture(
        title=title_of(answer),
        about=about_of(answer, nodes, cards),
        cards=in_time(cards, links),
        parted=links,
    )


def near(answer: Upstream | Downstream) -> list[NodeRow]:
    """The lots that are drawn."""
    return [node for node in answer.nodes if node.depth <= DEPTH_DRAWN]


def edges_among(answer: Upstream | Downstream, nodes: Sequence[NodeRow]) -> list[EdgeRow]:
    """The edges between these lots, and those to nothing but scrap."""
    drawn = {node.code for node in nodes}
    return [
        edge
        for edge in answer.edges or []
        if {edge.taken_lot, edge.made_lot or edge.taken_lot} <= drawn
    ]


def cards_of(
    answer: Upstream | Downstream, nodes: Sequence[NodeRow]
) -> tuple[list[Card], list[tuple[str, str]]]:
    """A card for each lot and posting, and links without a card between."""
    edges = edges_among(answer, nodes)
    parted = {
        edge.made_lot: edge for edge in edges if edge.kind in PARTINGS and edge.made_lot is not None
    }
    by_posting: dict[str, list[EdgeRow]] = defaultdict(list)
    for edge in edges:
        if edge.kind not in PARTINGS:
            by_posting[edge.posting].append(edge)
    links = [(edge.taken_lot, lot) for lot, edge in parted.items()]
    return [*_lot_cards(answer, nodes, parted), *map(_posting_card, by_posting.values())], links


def title_of(answer: Upstream | Downstream) -> str:
    """In a few words."""
    start = f"{answer.start.kind} {answer.start.code}"
    is_down = isinstance(answer, Downstream)
    demo = "DEMO: " if settings.SHOP_IS_DEMO else ""
    return demo + (f"Where {start} went" if is_down else f"What went into {start}")


def about_of(answer: Upstream | Downstream, nodes: Sequence[NodeRow], cards: Sequence[Card]) -> str:
    """In a sentence or two, for who cannot see it, and what is not drawn."""
    lots, postings = len(nodes), sum(card.is_event for card in cards)
    left_out = len(answer.nodes) - lots
    more = (
        f" Not drawn: {left_out:,} lots more than {DEPTH_DRAWN} postings away." if left_out else ""
    )
    on = " It goes on beyond the depth that was asked for." if answer.goes_on else ""
    return (
        f"{lots} lots and {postings} postings that took and made them, the earliest at the left; "
        f"begins with {', '.join(answer.start.lots) or 'no lot'}.{more}{on}"
    )


def _lot_cards(
    answer: Upstream | Downstream, nodes: Sequence[NodeRow], parted: Mapping[str, EdgeRow]
) -> list[Card]:
    became: dict[str, list[WhereRow]] = defaultdict(list)
    for row in answer.whereabouts if isinstance(answer, Downstream) else ():
        became[row.lot].append(row)
    return [
        Card(
            key=node.code,
            title=node.code,
            lines=(
                *_what(node),
                *_how_much(node),
                *(_parting(parted[node.code]) if node.code in parted else ()),
                *(_ways(became[node.code]) if isinstance(answer, Downstream) else _origin(node)),
            ),
            is_start=node.code in answer.start.lots,
            code=node.code,
        )
        for node in nodes
    ]


def _parting(edge: EdgeRow) -> Iterator[str]:
    yield f"{edge.kind} {moment(edge.at)}"


def _what(node: NodeRow) -> Iterator[str]:
    """Item, and whatever is unusual about the lot."""
    yield node.item if node.grade == Grade.FIRST else f"{node.item}, {node.grade}"
    if node.disposition != Disposition.RELEASED:
        yield node.disposition.upper()


def _how_much(node: NodeRow) -> Iterator[str]:
    """All of it, and how much of that is meant where it is not all."""
    yield in_words(node.whole)
    if node.part is not None and node.part.by_share != node.whole:
        yield f"by share {in_words(node.part.by_share)}"
        yield f"up to {in_words(node.part.up_to)}"


def _ways(rows: Sequence[WhereRow]) -> Iterator[str]:
    here = [row for row in rows if row.became not in ELSEWHERE]
    if rows and not here:
        yield "all used"
    shown = here if len(here) <= WAYS_MAX else here[: WAYS_MAX - 1]
    for row in shown:
        where = row.customer or row.box or row.place or ""
        yield f"{row.became.replace('_', ' ')} {where}: {in_words(row.amount)}".replace(" :", ":")
    if len(here) > len(shown):
        yield f"and {len(here) - len(shown)} more ways"


def _origin(node: NodeRow) -> Iterator[str]:
    if node.supplier is not None:
        yield f"from {node.supplier} {node.supplier_lot_code}".rstrip()


def _posting_card(edges: Sequence[EdgeRow]) -> Card:
    first = edges[0]
    takes = {edge.taken_lot: in_words(edge.taken) for edge in edges}
    makes = {
        edge.made_lot: in_words(edge.made)
        for edge in edges
        if edge.made_lot is not None and edge.made is not None
    }
    return Card(
        key=first.posting,
        title=first.batch or first.posting,
        lines=(
            " ".join(filter(None, (first.stage or first.kind, first.entry))),
            moment(first.at),
            *([] if makes else ["nothing came of it: all scrapped"]),
        ),
        is_event=True,
        takes=tuple(takes.items()),
        makes=tuple(makes.items()),
        code=first.batch or "",
    )


def moment(at: datetime) -> str:
    """A moment as the shop's clock had it: `2026-03-02 12:20`."""
    return f"{at.astimezone(shop_zone()):%Y-%m-%d %H:%M}"


def in_time(cards: Sequence[Card], parted: Sequence[tuple[str, str]]) -> list[Card]:
    """The cards, each after all that leads to it."""
    before: dict[str, list[str]] = defaultdict(list)
    for card in cards:
        before[card.key] += [lot for lot, _ in card.takes]
        for lot, _ in card.makes:
            before[lot].append(card.key)
    for parent, part in parted:
        before[part].append(parent)
    by_key = {card.key: card for card in cards}
    order = TopologicalSorter({card.key: before[card.key] for card in cards}).static_order()
    return [by_key[key] for key in order]
