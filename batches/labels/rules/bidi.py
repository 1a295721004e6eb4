"""In which direction each character of a line runs: Unicode Standard Annex 9, without controls.

Characters that embed or override a direction are dropped before (they hide what a label says), so
the explicit rules X1 to X10 have nothing to do here.
"""

from __future__ import annotations

import unicodedata
from typing import Final

PAIRS: Final = {")": "(", "]": "[", "}": "{"}
"""Brackets of rule N0."""
NEUTRAL: Final = frozenset({"B", "S", "WS", "ON"})


def levels(text: str) -> list[int]:
    """The level of each character: even runs to the right, odd to the left.

    Args:
        text: One line, without controls of direction.
    """
    kinds = [unicodedata.bidirectional(letter) or "L" for letter in text]
    base = next((int(kind in {"R", "AL"}) for kind in kinds if kind in {"L", "R", "AL"}), 0)
    start = "R" if base else "L"
    original = list(kinds)
    _weak(kinds, start)
    _brackets(text, kinds, start)
    _neutral(kinds, start)
    raised = {"L": 1, "EN": 1, "AN": 1} if base else {"R": 1, "EN": 2, "AN": 2}
    found = [base + raised.get(kind, 0) for kind in kinds]
    for place in reversed(range(len(text))):  # L1: blanks at the end are the line's
        if original[place] not in {"WS", "BN"}:
            break
        found[place] = base
    return found


def visual(found: list[int]) -> list[int]:
    """Places from left to right: rule L2."""
    order = list(range(len(found)))
    for level in range(max(found, default=0), 0, -1):
        place = 0
        while place < len(order):
            end = place
            while end < len(order) and found[order[end]] >= level:
                end += 1
            order[place:end] = reversed(order[place:end])
            place = max(end, place + 1)
    return order


def _weak(kinds: list[str], start: str) -> None:
    """Rules W1 to W7."""
    last = start
    for place, kind in enumerate(kinds):
        if kind in {"NSM", "BN"}:
            kinds[place] = last
        last = kinds[place]
    _after_strong(kinds, start, {"AL"}, "AN")
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]
    for place in range(1, len(kinds) - 1):
        before, kind, after = kinds[place - 1 : place + 2]
        if before == after and (kind, before) in {("ES", "EN"), ("CS", "EN"), ("CS", "AN")}:
            kinds[place] = before
    _beside_numbers(kinds)
    kinds[:] = ["ON" if kind in {"ES", "ET", "CS"} else kind for kind in kinds]
    _after_strong(kinds, start, {"L"}, "L")


def _after_strong(kinds: list[str], start: str, strongs: set[str], becomes: str) -> None:
    """What European digits become whose last strong letter is one of these."""
    strong = start
    for place, kind in enumerate(kinds):
        if kind in {"L", "R", "AL"}:
            strong = kind
        elif kind == "EN" and strong in strongs:
            kinds[place] = becomes


def _beside_numbers(kinds: list[str]) -> None:
    """Rule W5: signs beside a number belong to it."""
    for places in (range(len(kinds)), reversed(range(len(kinds)))):
        last = ""
        for place in places:
            if kinds[place] == "ET" and last == "EN":
                kinds[place] = "EN"
            last = kinds[place]


def _side(kind: str) -> str:
    """Numbers count as to the left where neutrals are judged."""
    return "R" if kind in {"R", "EN", "AN"} else kind


def _brackets(text: str, kinds: list[str], start: str) -> None:
    """Rule N0: both brackets of a pair run the way of what they hold."""
    for begin, end in _pairs(text, kinds):
        inside = {_side(kind) for kind in kinds[begin + 1 : end]} & {"L", "R"}
        if not inside:
            continue
        before = next(
            (_side(kind) for kind in reversed(kinds[:begin]) if _side(kind) in {"L", "R"}), start
        )
        side = before if start not in inside and before in inside else start
        kinds[begin] = kinds[end] = side


def _pairs(text: str, kinds: list[str]) -> list[tuple[int, int]]:
    """Brackets that match, by where they open."""
    opened: list[int] = []
    pairs = []
    for place, letter in enumerate(text):
        if kinds[place] == "ON" and letter in PAIRS.values():
            opened.append(place)
        elif kinds[place] == "ON" and letter in PAIRS:
            matching = [at for at in opened if text[at] == PAIRS[letter]]
            if matching:
                pairs.append((matching[-1], place))
                opened = opened[: opened.index(matching[-1])]
    return sorted(pairs)


def _neutral(kinds: list[str], start: str) -> None:
    """Rules N1 and N2."""
    place = 0
    while place < len(kinds):
        end = place
        while end < len(kinds) and kinds[end] in NEUTRAL:
            end += 1
        if end > place:
            before = _side(kinds[place - 1]) if place else start
            after = _side(kinds[end]) if end < len(kinds) else start
            kinds[place:end] = [before if before == after else start] * (end - place)
        place = end + 1
