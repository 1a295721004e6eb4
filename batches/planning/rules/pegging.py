"""Which plan line or order needs what: amounts handed up from an item to what is made of it.

A peg is an amount for one root: a line of a plan or an order, or `STOCK`. Pegs of a week add up to
what is taken in it, to the base unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

STOCK: Final = -1
"""Nobody yet: safety stock, or the rest of a lot."""


class Peg(NamedTuple):
    """Base units of an item for one root."""

    root: int
    qty_base: int


class Need(NamedTuple):
    """What one root takes of an item in a week."""

    week: int
    root: int
    qty_base: int


class Supply(NamedTuple):
    """What covers needs, > 0; earlier weeks first. `name` is whatever tells one from another."""

    week: int
    name: tuple[str, int]
    qty_base: int


def covered(needs: Iterable[Need], supplies: Iterable[Supply]) -> dict[tuple[str, int], list[Peg]]:
    """What each supply is for, by its name: the first need takes of the first supply.

    What no need is left for is `STOCK`; each supply's pegs add up to it.
    """
    waiting = iter(sorted(needs))
    need, left_base = next(waiting, None), 0
    left_base = need.qty_base if need else 0
    found: dict[tuple[str, int], list[Peg]] = {}
    for supply in sorted(supplies):
        pegs = found.setdefault(supply.name, [])
        rest_base = supply.qty_base
        while rest_base and need:
            part_base = min(rest_base, left_base)
            if part_base:
                pegs.append(Peg(need.root, part_base))
            rest_base -= part_base
            left_base -= part_base
            if not left_base:
                need = next(waiting, None)
                left_base = need.qty_base if need else 0
        if rest_base:
            pegs.append(Peg(STOCK, rest_base))
    return found


def shared(qty_base: int, pegs: Sequence[Peg]) -> list[Peg]:
    """An amount over pegs, in proportion; the parts add up to it.

    Each border between two is rounded down, so that none is off by a whole base unit.
    """
    whole = sum(peg.qty_base for peg in pegs)
    assert whole > 0
    found, upto, given = [], 0, 0
    for peg in pegs:
        upto += peg.qty_base
        border = qty_base * upto // whole
        if border > given:
            found.append(Peg(peg.root, border - given))
        given = border
    return found


def summed(pegs: Iterable[Peg]) -> dict[int, int]:
    """Base units by root."""
    found: dict[int, int] = {}
    for peg in pegs:
        found[peg.root] = found.get(peg.root, 0) + peg.qty_base
    return found


def above(item: int, parents_of: Mapping[int, Iterable[int]]) -> list[int]:
    """An item and all that it goes into, those on top first; places grow downward."""
    found, waiting = {item}, [item]
    while waiting:
        for parent in parents_of.get(waiting.pop(), ()):
            if parent not in found:
                found.add(parent)
                waiting.append(parent)
    return sorted(found)
