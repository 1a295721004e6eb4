"""A trace as a picture with its like parts folded, which stays readable at any size.

No statement.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from batches.trace.rules.drawing import Card, Picture
from batches.trace.rules.folding import folds
from batches.trace.selectors.pictures import (
    ELSEWHERE,
    PARTINGS,
    WAYS_MAX,
    about_of,
    cards_of,
    edges_among,
    in_time,
    near,
    title_of,
)
from batches.trace.selectors.rows import Downstream, EdgeRow, NodeRow, Upstream, WhereRow
from inventory.stock.models import Disposition
from inventory.stock.selectors.amounts import AmountRow
from shopfloor.days import shop_day

EACH: Final = "each"


def folded_picture(answer: Upstream | Downstream, *, opened: Collection[str] = ()) -> Picture:
    """Lots of one item, and runs of one stage that made the same, as one card where they are many.

    Where it begins is never folded.

    Args:
        answer: The trace, with its edges.
        opened: Names of folds to leave open.
    """
    nodes = near(answer)
    cards, parted = cards_of(answer, nodes)
    by_lot = {node.code: node for node in nodes}
    by_posting: dict[str, list[EdgeRow]] = defaultdict(list)
    for edge in edges_among(answer, nodes):
        if edge.kind not in PARTINGS:
            by_posting[edge.posting].append(edge)
    cards = in_time(cards, parted)
    links = [*_own_links(cards), *parted]
    likes = {card.key: _likes(card, by_lot, by_posting) for card in cards if not card.is_start}
    found = folds(
        [card.key for card in cards],
        links,
        close={key: close for key, (close, _) in likes.items()},
        wide={key: wide for key, (_, wide) in likes.items()},
        opened=opened,
    )
    fold_of = {key: name for name, keys in found.items() for key in keys}
    became: dict[str, list[WhereRow]] = defaultdict(list)
    for row in answer.whereabouts if isinstance(answer, Downstream) else ():
        became[fold_of.get(row.lot, "")].append(row)
    new = [_outside(card, fold_of) for card in cards if card.key not in fold_of]
    for name, keys in found.items():
        if keys[0] in by_lot:
            new.append(_lots(name, [by_lot[key] for key in keys], became[name]))
        else:
            new.append(_runs(name, [by_posting[key] for key in keys]))
    kept = {link for card in new for link in _own_links([card])}
    moved = dict.fromkeys((fold_of.get(a, a), fold_of.get(b, b)) for a, b in links)
    without = [link for link in moved if link not in kept]
    return Picture(
        title=title_of(answer),
        about=about_of(answer, nodes, cards),
        cards=in_time(new, without),
        parted=without,
    )


def _own_links(cards: Iterable[Card]) -> Iterator[tuple[str, str]]:
    for card in cards:
        yield from ((lot, card.key) for lot, _ in card.takes)
        yield from ((card.key, lot) for lot, _ in card.makes)


def _likes(
    card: Card, by_lot: Mapping[str, NodeRow], by_posting: Mapping[str, Sequence[EdgeRow]]
) -> tuple[str, str]:
    """What it is alike in: by item, or stage and what was made; by kind of item, or stage."""
    if not card.is_event:
        node = by_lot[card.key]
        return f"{node.disposition}.{node.item}", f"{node.disposition}.{node.kind}"
    edges = by_posting[card.key]
    stage = edges[0].stage or edges[0].kind
    made = sorted({edge.made_item for edge in edges if edge.made_item})
    return ".".join([stage, *made]), stage


def _outside(card: Card, fold_of: Mapping[str, str]) -> Card:
    """A card of its own, its rows of folded lots without a row: the link ends in the middle."""
    return replace(
        card,
        takes=tuple(row for row in card.takes if row[0] not in fold_of),
        makes=tuple(row for row in card.makes if row[0] not in fold_of),
    )


def _lots(name: str, nodes: Sequence[NodeRow], became: Sequence[WhereRow]) -> Card:
    first, items = nodes[0], {node.item for node in nodes}
    kind = first.kind.replace("_", " ")
    lines = [f"{first.item} {first.name}" if len(items) == 1 else f"{kind}, {len(items)} items"]
    if first.disposition != Disposition.RELEASED:
        lines.append(first.disposition.upper())
    lines.append(together(node.whole for node in nodes))
    parts = [node.part for node in nodes if node.part is not None]
    if parts and any(node.part and node.part.by_share != node.whole for node in nodes):
        lines.append(f"by share {together(part.by_share for part in parts)}")
    return Card(key=name, title=f"{len(nodes)} lots", lines=(*lines, *_ways(became)), of=len(nodes))


def _ways(rows: Sequence[WhereRow]) -> Iterator[str]:
    """What became of them, the most lots first."""
    ways: dict[str, list[WhereRow]] = defaultdict(list)
    for row in rows:
        if row.became not in ELSEWHERE:
            ways[row.became].append(row)
    for way, each in sorted(ways.items(), key=lambda pair: -len(pair[1]))[:WAYS_MAX]:
        customers = {row.customer for row in each} - {None}
        to = f" to {len(customers)} customer{'s'[: len(customers) > 1]}" if customers else ""
        yield f"{way.replace('_', ' ')}{to}: {together(row.amount for row in each)}"


def _runs(name: str, postings: Sequence[Sequence[EdgeRow]]) -> Card:
    first = postings[0][0]
    batches = {edges[0].batch for edges in postings} - {None}
    days = sorted(shop_day(edges[0].at) for edges in postings)
    made = {
        edge.made_lot: (edge.made_item, edge.made)
        for edges in postings
        for edge in edges
        if edge.made_lot is not None and edge.made is not None
    }
    items = {item for item, _ in made.values()}
    what = items.pop() if len(items) == 1 else f"of {len(items)} items"
    lines = [
        f"of {len(batches)} batch{'es' if len(batches) > 1 else ''}" if batches else "",
        f"{days[0]} to {days[-1]}",
        f"made {together(amount for _, amount in made.values())} {what}" if made else "",
    ]
    return Card(
        key=name,
        title=f"{len(postings)} x {first.stage or first.kind}",
        lines=tuple(filter(None, lines)),
        is_event=True,
        of=len(postings),
    )


def together(amounts: Iterable[AmountRow]) -> str:
    """Amounts added up, in words; each unit by itself."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for each in amounts:
        sums[each.unit] += Decimal(each.amount)
    return " and ".join(
        f"{total:,f} {'pieces' if unit == EACH else unit}" for unit, total in sums.items()
    )
