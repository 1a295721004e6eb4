"""Balances of ledgers made at random: to the piece, and what a walk from row to row finds."""

from __future__ import annotations

from typing import Any

from hypothesis import given

from batches.recall.rules import Balance
from batches.recall.selectors.scope import scope_of
from inventory.stock.models import Disposition, Lot, Movement, Posting
from shopfloor.snapshot import snapshot
from tests.batches.trace import test_random_ledgers as traced
from tests.examples import ledgers
from tests.inventory.stock.ledgers import depths_by_hand, events, play

IN = {"received": "received", "made": "made", "mixed": "made", "returned": "returned"}
OUT = {"made": "used", "mixed": "used", "disposed": "disposed", "shipped": "shipped"}
BOTH = {"split": ("parted", 1), "moved": ("parted", 1), "counted": ("unexplained", -1)}
BOTH["adjusted"] = BOTH["counted"]


def by_hand(start: int) -> Balance:
    """All lots downstream, movement by movement."""
    reached = depths_by_hand(start, upstream=False)
    undone = set(Posting.objects.exclude(reverses=None).values_list("reverses_id", flat=True))
    figures: dict[str, int] = {}
    rows = Movement.objects.filter(lot__in=reached).exclude(posting__kind="reversed")
    for posting, kind, qty in rows.values_list("posting_id", "posting__kind", "qty_base"):
        if posting in undone:
            continue
        name, sign = BOTH.get(kind) or ((IN[kind], 1) if qty > 0 else (OUT[kind], -1))
        figures[name] = figures.get(name, 0) + sign * qty
    for lot in Lot.objects.filter(pk__in=reached):
        name = "free" if lot.disposition == Disposition.RELEASED else "stopped"
        figures[name] = figures.get(name, 0) + lot.on_hand_base
    return Balance(**figures)


class RandomBalances(traced.Bodies):
    """Entries, losses, splits, reversals, adjustments and disposals as they come."""

    @ledgers(15)
    @given(script=events)
    def test_every_piece_at_risk_is_accounted_for(self, script: list[Any]) -> None:
        """Whatever lot is suspect."""
        play(script, item=self.item, stamp=self.stamp, make=traced.record_it, undo=traced.undo_it)
        found = {}
        for lot in Lot.objects.values_list("pk", flat=True):
            with snapshot():
                balances = scope_of([lot]).balances
            found[lot] = balances["BODY"]
        assert found == {lot: by_hand(lot) for lot in found}
        assert all(balance.is_even for balance in found.values())
