"""Arithmetic of a drawing in columns: which column each thing stands in, in which order, how high.

The usual way with layers: columns by longest path, long links cut into pieces that pass through
each column, each column ordered by the mean place of its neighbors (barycenter), then heights as
near to the neighbors' as the order allows. Source: Sugiyama, Tagawa, Toda, "Methods for visual
understanding of hierarchical system structures", 1981 (from memory).
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Final, TypeVar

Key = TypeVar("Key", bound=Hashable)
Links = Sequence[tuple[Key, Key]]

SWEEPS: Final = 12
"""Times the columns are put in order, there and back; more change little (tried on the demo)."""


def columns_of(keys: Iterable[Key], links: Links[Key]) -> dict[Key, int]:
    """The column of each thing, from 0: right of all that leads to it.

    What nothing leads to stands as far right as what comes of it allows, so that links are short.

    Args:
        keys: Each after all that leads to it.
        links: From, to.
    """
    found = dict.fromkeys(keys, 0)
    into, out_of = _neighbors(links)
    for key in found:
        found[key] = max((found[before] + 1 for before in into[key]), default=0)
    for key in reversed(found):
        if not into[key] and out_of[key]:
            found[key] = min(found[after] for after in out_of[key]) - 1
    return found


def in_order(
    columns: Sequence[Sequence[Key]], links: Links[Key], *, sweeps: int = SWEEPS
) -> list[list[Key]]:
    """Each column in the order with the fewest crossings that was found.

    Args:
        columns: From left to right, in any order.
        links: From a column to the next.
        sweeps: How often it is tried.
    """
    into, out_of = _neighbors(links)
    now = [list(column) for column in columns]
    best, fewest = now, crossings(now, links)
    for _ in range(sweeps if fewest else 0):
        for beside, numbers in ((into, range(1, len(now))), (out_of, range(len(now) - 2, -1, -1))):
            now = [list(column) for column in now]
            step = 1 if beside is out_of else -1
            for number in numbers:
                place = {key: n for n, key in enumerate(now[number + step])}
                mean = {
                    key: sum(place[other] for other in beside[key]) / len(beside[key])
                    if beside[key]
                    else float(own)
                    for own, key in enumerate(now[number])
                }
                now[number].sort(key=mean.__getitem__)
            found = crossings(now, links)
            if found < fewest:
                best, fewest = now, found
        if not fewest:
            break
    return best


def crossings(columns: Sequence[Sequence[Key]], links: Links[Key]) -> int:
    """How many pairs of links cross."""
    _, out_of = _neighbors(links)
    total = 0
    for left, right in pairwise(columns):
        place = {key: n for n, key in enumerate(right)}
        seen: list[int] = []
        for key in left:
            ends = sorted(place[other] for other in out_of[key])
            total += sum(len(seen) - bisect_left(seen, end + 1) for end in ends)
            for end in ends:
                insort(seen, end)
    return total


def heights(
    columns: Sequence[Sequence[Key]],
    links: Links[Key],
    tall: Mapping[Key, float],
    *,
    gap: float,
    rounds: int = 8,
) -> dict[Key, float]:
    """The top of each thing: in order, apart by the gap, near the middle of its neighbors.

    Args:
        columns: Each in order, top first.
        links: From a column to the next.
        tall: Height of each thing, > 0.
        gap: Between two of a column.
        rounds: There and back so often.
    """
    into, out_of = _neighbors(links)
    middle: dict[Key, float] = {}
    for column in columns:
        top = 0.0
        for key in column:
            middle[key] = top + tall[key] / 2
            top += tall[key] + gap
    for number in range(2 * rounds):
        beside = out_of if number % 2 else into
        for column in reversed(columns) if number % 2 else columns:
            wanted = [
                _mean([middle[other] for other in beside[key]], middle[key]) for key in column
            ]
            found = _apart(wanted, [tall[key] for key in column], gap)
            middle.update(zip(column, found, strict=True))
    highest = min((middle[key] - tall[key] / 2 for key in middle), default=0.0)
    return {key: middle[key] - tall[key] / 2 - highest for key in middle}


def _mean(numbers: Sequence[float], otherwise: float) -> float:
    return sum(numbers) / len(numbers) if numbers else otherwise


def _apart(wanted: Sequence[float], tall: Sequence[float], gap: float) -> list[float]:
    """Middles nearest to those wanted (least squares) that keep order and distance."""
    offsets: list[float] = []
    at = 0.0
    for before, height in zip([0.0, *tall], tall, strict=False):
        at += (before + height) / 2 + gap if offsets else 0.0
        offsets.append(at)
    blocks: list[tuple[float, int]] = []  # mean and count of what moves together
    for want, offset in zip(wanted, offsets, strict=True):
        mean, count = want - offset, 1
        while blocks and blocks[-1][0] > mean:
            other, more = blocks.pop()
            mean = (mean * count + other * more) / (count + more)
            count += more
        blocks.append((mean, count))
    shifts = [mean for mean, count in blocks for _ in range(count)]
    return [shift + offset for shift, offset in zip(shifts, offsets, strict=True)]


def _neighbors(links: Links[Key]) -> tuple[dict[Key, list[Key]], dict[Key, list[Key]]]:
    into: dict[Key, list[Key]] = defaultdict(list)
    out_of: dict[Key, list[Key]] = defaultdict(list)
    for before, after in links:
        into[after].append(before)
        out_of[before].append(after)
    return into, out_of
