"""Small ledgers made at random through operations, and their genealogy worked out by hand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from hypothesis import strategies as st

from inventory.catalog.models import Item
from inventory.stock.models import FLOWING_KINDS, Lot, Movement, OutsideKind, Posting, PostingKind
from inventory.stock.operations import (
    OpeningLot,
    adjust_lot,
    dispose_of_lot,
    split_off,
    take_in_opening_lots,
)
from inventory.stock.steps import Make, lock_lots_by_id, post, reverse_posting, take
from shopfloor.errors import ShopError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp
from shopfloor.statistics import look_over

Makes = Callable[..., Any]

MANY = 500  # lots of a posting; a server that looked before would go on planning for none

# As often as they stand here.
NAMES = ["make"] * 6 + ["split"] * 2 + ["reverse"] * 2 + ["lose", "adjust", "dispose", "open"]

events = st.lists(
    st.tuples(
        st.sampled_from(NAMES),
        st.lists(st.tuples(st.integers(0, 30), st.integers(1, 6)), min_size=1, max_size=3),
        st.lists(st.integers(10, 40), min_size=1, max_size=2),
    ),
    min_size=10,
    max_size=20,
)
"""What happens, to which lots, by how much; `play` makes it so as far as the ledger allows."""


@operation
def make_lots(
    *, taken: dict[int, int], made: Sequence[int], item: Item, stamp: Stamp, kind: PostingKind
) -> None:
    """Take amounts of lots, by id, and make new ones; none made: all was lost."""
    lots = lock_lots_by_id(taken)
    changes = [take(lots[lot_id], qty_base) for lot_id, qty_base in taken.items()]
    worth = -sum(change.value_micro for change in changes)
    assert item.storage_place_id is not None
    post(
        kind=kind,
        stamp=stamp,
        changes=changes,
        makes=[
            Make(
                item_id=item.pk,
                place_id=item.storage_place_id,
                qty_base=qty_base,
                value_micro=0 if number else worth,
            )
            for number, qty_base in enumerate(made)
        ],
        outside_kind=OutsideKind.NONE if made else OutsideKind.LOSS,
    )
    if len(taken) + len(made) > MANY:
        look_over(model._meta.db_table for model in (Lot, Movement, Posting))


@operation
def reverse_it(*, posting_id: int, stamp: Stamp) -> None:
    """Undo a posting."""
    reverse_posting(Posting.objects.get(pk=posting_id), stamp)


def play(
    script: Iterable[Any], *, item: Item, stamp: Stamp, make: Makes, undo: Makes = reverse_it
) -> None:
    """Let it happen. What the ledger refuses did not happen: that is part of the game."""
    take_in_opening_lots(lots=[_opening(item, 400)], stamp=stamp)
    for name, uses, sizes in script:
        every = Lot.objects.order_by("id")
        lots = list(every.filter(on_hand_base__gt=0)) or list(every)
        taken = {lots[number % len(lots)]: qty_base for number, qty_base in uses}
        try:
            if name == "reverse":
                newest = Posting.objects.exclude(kind=PostingKind.REVERSED).order_by("-id")
                undo(posting_id=newest[uses[0][0] % min(4, newest.count())].pk, stamp=stamp)
            else:
                DEEDS[name](taken, sizes, item=item, stamp=stamp, make=make)
        except ShopError:
            continue


def _opening(item: Item, qty_base: int) -> OpeningLot:
    return OpeningLot(item_code=item.code, qty_base=qty_base, value_micro=1_000)


def _make(taken: dict[Lot, int], sizes: list[int], *, make: Makes, **given: Any) -> None:
    kind = PostingKind.MIXED if len(taken) > 1 else PostingKind.MADE
    ids = {lot.pk: qty_base for lot, qty_base in taken.items()}
    make(taken=ids, made=sizes, kind=kind, **given)


def _lose(taken: dict[Lot, int], _: list[int], **given: Any) -> None:
    _make(taken, [], **given)


def _split(taken: dict[Lot, int], _: list[int], *, stamp: Stamp, **__: Any) -> None:
    lot, qty_base = next(iter(taken.items()))
    split_off(lot_code=lot.code, qty_base=qty_base, stamp=stamp)


def _adjust(taken: dict[Lot, int], sizes: list[int], *, stamp: Stamp, **_: Any) -> None:
    lot, qty_base = next(iter(taken.items()))
    adjust_lot(lot_code=lot.code, qty_base=qty_base if sizes[0] % 2 else -qty_base, stamp=stamp)


def _dispose(taken: dict[Lot, int], _: list[int], *, stamp: Stamp, **__: Any) -> None:
    lot, qty_base = next(iter(taken.items()))
    dispose_of_lot(lot_code=lot.code, qty_base=qty_base, stamp=stamp)


def _open(_: dict[Lot, int], sizes: list[int], *, item: Item, stamp: Stamp, **__: Any) -> None:
    take_in_opening_lots(lots=[_opening(item, sizes[0])], stamp=stamp)


DEEDS: dict[str, Makes] = {
    "make": _make,
    "lose": _lose,
    "split": _split,
    "adjust": _adjust,
    "dispose": _dispose,
    "open": _open,
}


def standing_flows() -> dict[int, tuple[dict[int, int], dict[int, int]]]:
    """What each flowing posting that stands took and made, by lot id; read row by row."""
    undone = {posting.reverses_id for posting in Posting.objects.all()}
    kinds = dict(Posting.objects.values_list("pk", "kind"))
    found: dict[int, tuple[dict[int, int], dict[int, int]]] = {}
    for row in Movement.objects.order_by("posting_id", "lot_id"):
        if kinds[row.posting_id] in FLOWING_KINDS and row.posting_id not in undone:
            taken, made = found.setdefault(row.posting_id, ({}, {}))
            (taken if row.qty_base < 0 else made)[row.lot_id] = abs(row.qty_base)
    return found


def lots_onward(*, upstream: bool) -> dict[int, set[int]]:
    """The lots one flow away from each lot that flows."""
    onward: dict[int, set[int]] = defaultdict(set)
    for taken, made in standing_flows().values():
        here, beyond = (made, taken) if upstream else (taken, made)
        for lot_id in here:
            onward[lot_id] |= set(beyond)
    return onward


def depths_by_hand(start: int, *, upstream: bool) -> dict[int, int]:
    """How many flows each lot is away, one flow after the other."""
    onward = lots_onward(upstream=upstream)
    found, edge, depth = {start: 0}, {start}, 0
    while edge:
        depth += 1
        edge = {other for lot_id in edge for other in onward[lot_id]} - found.keys()
        found |= dict.fromkeys(edge, depth)
    return found
