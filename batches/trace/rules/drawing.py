"""A trace as a drawing: cards for lots and for what was done with them, and links between.

Time goes from left to right. Lengths are points. Everything lies on a grid of pages, so that no
card is cut where a large drawing is printed on several.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from batches.trace.rules.layers import columns_of, heights, in_order

PAGE_WIDTH: Final = 900.0
PAGE_HEIGHT: Final = 600.0
"""What fits a sheet of Letter or A4 on its side at `PRINT_SCALE`, with margins and a head."""

PRINT_SCALE: Final = 0.8
"""Where a drawing is printed on several pages: what was 7 points high is 5.6."""

PITCH: Final = PAGE_WIDTH / 5
CARD_WIDTH: Final = 146.0
TITLE_SIZE: Final = 8.5
TEXT_SIZE: Final = 7.0
LINE: Final = 9.5
"""From line to line."""
PAD: Final = 4.0
GAP: Final = 9.0
PASS: Final = 4.0
"""Height that a link takes which passes through a column."""


@dataclass(frozen=True, slots=True)
class Card:
    """A lot, or a posting that took and made lots.

    Attributes:
        key: Of this card alone.
        title: Its code.
        lines: What stands below.
        is_event: A posting, else a lot.
        is_start: Where the trace begins.
        takes: Of a posting: keys of lots and the amounts it took.
        makes: The same of what it made.
        of: How many cards are folded into it; 1 for a card of its own.
        code: What a trace of it would begin with, if anything.
    """

    key: str
    title: str
    lines: tuple[str, ...]
    is_event: bool = False
    is_start: bool = False
    takes: tuple[tuple[str, str], ...] = ()
    makes: tuple[tuple[str, str], ...] = ()
    of: int = 1
    code: str = ""

    @property
    def height(self) -> float:
        """With one line for each lot of the longer side."""
        ports = max(len(self.takes), len(self.makes))
        return 2 * PAD + LINE * (1 + len(self.lines) + ports)

    def port(self, row: int) -> float:
        """From its top to the middle of a row of its lots."""
        return PAD + LINE * (1.5 + len(self.lines) + row)


@dataclass(frozen=True, slots=True)
class Picture:
    """What is to be drawn.

    Attributes:
        title: In a few words.
        about: In a sentence, for who cannot see it.
        cards: Each after all that leads to it.
        parted: Lots that came of one another without a card between: from, to.
    """

    title: str
    about: str
    cards: Sequence[Card]
    parted: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True, slots=True)
class Placed:
    """A card where it lies."""

    card: Card
    left: float
    top: float


Curve = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture laid out.

    Attributes:
        picture: What it shows.
        placed: The cards.
        curves: The links, each as points that it goes through: straight across a column, from the
            second to the third point and so on, and bent between.
        width: Of all.
        height: Of all.
    """

    picture: Picture
    placed: Sequence[Placed] = field(default=())
    curves: Sequence[Curve] = field(default=())
    width: float = 0.0
    height: float = 0.0


Spot = tuple[str, int]
"""A card (0), or the place where a link passes through a column (its number)."""


def laid_out(picture: Picture) -> Drawing:
    """The picture with a place for every card and a way for every link."""
    cards = {card.key: card for card in picture.cards}
    links = [
        *((lot, card.key) for card in picture.cards for lot, _ in card.takes),
        *((card.key, lot) for card in picture.cards for lot, _ in card.makes),
        *picture.parted,
    ]
    column = columns_of(cards, links)
    ways = [_way(*link, column) for link in links]
    columns: list[list[Spot]] = [[] for _ in range(max(column.values(), default=-1) + 1)]
    for key in cards:
        columns[column[key]].append((key, 0))
    for way in ways:
        for spot in way[1:-1]:
            columns[spot[1]].append(spot)
    short = [pair for way in ways for pair in pairwise(way)]
    tall = {
        spot: cards[spot[0]].height if spot[1] == 0 else PASS for each in columns for spot in each
    }
    ordered = in_order(columns, short)
    top = _off_the_edges(ordered, heights(ordered, short, tall, gap=GAP), tall)
    placed = [Placed(card, _left(column[card.key]), top[card.key, 0]) for card in picture.cards]
    return Drawing(
        picture,
        placed,
        [_curve(way, cards, column, top) for way in ways],
        width=len(columns) * PITCH,
        height=max((each.top + each.card.height for each in placed), default=0.0),
    )


def _way(before: str, after: str, column: dict[str, int]) -> list[Spot]:
    """From card to card through every column between."""
    passes = range(column[before] + 1, column[after])
    return [(before, 0), *((f"{before}>{after}", number) for number in passes), (after, 0)]


def _left(column: int) -> float:
    return column * PITCH + (PITCH - CARD_WIDTH) / 2


def _off_the_edges(
    columns: Sequence[Sequence[Spot]], top: dict[Spot, float], tall: dict[Spot, float]
) -> dict[Spot, float]:
    """The tops moved down where the edge of a page would cut a card that fits a page."""
    found: dict[Spot, float] = {}
    for column in columns:
        least = 0.0
        for spot in column:
            y = max(top[spot], least)
            room = PAGE_HEIGHT - y % PAGE_HEIGHT
            if tall[spot] > room and tall[spot] <= PAGE_HEIGHT:
                y = math.ceil(y / PAGE_HEIGHT) * PAGE_HEIGHT
            found[spot] = y
            least = y + tall[spot] + GAP
    return found


def _curve(
    way: Sequence[Spot], cards: dict[str, Card], column: dict[str, int], top: dict[Spot, float]
) -> Curve:
    before, after = cards[way[0][0]], cards[way[-1][0]]
    points = [
        (_left(column[before.key]) + CARD_WIDTH, top[way[0]] + _port(before, before.makes, after))
    ]
    for spot in way[1:-1]:
        y = top[spot] + PASS / 2
        points += [(_left(spot[1]), y), (_left(spot[1]) + CARD_WIDTH, y)]
    return [
        *points,
        (_left(column[after.key]), top[way[-1]] + _port(after, after.takes, before)),
    ]


def _port(card: Card, rows: Sequence[tuple[str, str]], other: Card) -> float:
    """Where on its side the link to another card ends: beside its amount, or in the middle."""
    keys = [key for key, _ in rows]
    return card.port(keys.index(other.key)) if other.key in keys else card.height / 2


def pages_of(drawing: Drawing) -> list[tuple[int, int]]:
    """The pages that have something on them: row and column of the grid, row by row."""
    used: dict[tuple[int, int], bool] = defaultdict(bool)
    for each in drawing.placed:
        middle = each.left + CARD_WIDTH / 2
        for y in (each.top, each.top + each.card.height - 1):
            used[int(y // PAGE_HEIGHT), int(middle // PAGE_WIDTH)] = True
    for curve in drawing.curves:
        for x, y in curve:
            used[int(y // PAGE_HEIGHT), int(min(x, drawing.width - 1) // PAGE_WIDTH)] = True
    return sorted(used)
