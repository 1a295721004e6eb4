"""Which cards of a drawing are folded into one: alike, and as far along."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Final

from batches.trace.rules.layers import columns_of

FOLD_MIN: Final = 4
"""Fewer alike stand by themselves."""

CARDS_MAX: Final = 60
"""With more than that left, folding is by the next wider likeness first."""

OPENED_MAX: Final = 100
"""A fold with more stays shut: nobody reads so tall a column."""

Likeness = Mapping[str, str]
"""What a card is alike in; a card without stands by itself."""


def folds(
    cards: Sequence[str],
    links: Sequence[tuple[str, str]],
    *,
    close: Likeness,
    wide: Likeness,
    opened: Collection[str] = (),
) -> dict[str, list[str]]:
    """The cards of each fold, by its name; none has fewer than `FOLD_MIN`.

    Only cards of one column are folded together, so that what leads from fold to fold still leads
    one way. An opened wide fold has close ones in it, an opened close one the cards themselves.

    Args:
        cards: Each after all that leads to it.
        links: From, to.
        close: By the like of one item.
        wide: By the like of one kind; alike closely is alike widely.
        opened: Names of folds to leave open, as far as that can be read.
    """
    column = columns_of(cards, links)
    shut = _folds(cards, column, close, _CLOSE, (), opened_max=0)
    if len(cards) - sum(map(len, shut.values())) + len(shut) <= CARDS_MAX:
        return _folds(cards, column, close, _CLOSE, opened, opened_max=OPENED_MAX)
    widely = _folds(cards, column, wide, _WIDE, opened, opened_max=len(cards))
    within = {card for members in widely.values() for card in members}
    others = [card for card in cards if card not in within]
    return widely | _folds(others, column, close, _CLOSE, opened, opened_max=OPENED_MAX)


_CLOSE: Final = "c"
_WIDE: Final = "w"


def _folds(
    cards: Sequence[str],
    column: Mapping[str, int],
    likeness: Likeness,
    mark: str,
    opened: Collection[str],
    *,
    opened_max: int,
) -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for card in cards:
        if card in likeness:
            found[f"{mark}{column[card]}.{likeness[card]}"].append(card)
    return {
        name: members
        for name, members in found.items()
        if len(members) >= FOLD_MIN and not (name in opened and len(members) <= opened_max)
    }
