"""What a shop does beside making: throwing away, counting, holding, closing the books."""

from __future__ import annotations

from typing import Final

from inventory.stock.models import BooksClosing, Count, CountLine, HeldLot, Hold, HoldRelease
from tests.bench.past.ledger import Change, Held
from tests.bench.past.shop import Shop
from tests.bench.past.writing import day, moment

LOTS_COUNTED: Final = 40
DIFFERS: Final = 0.2  # share of counted lots


def throw_away(shop: Shop) -> None:
    """Dispose of seconds, runners, pot ends and what came back."""
    left = {lot.id: lot for lot in shop.leftovers if lot.qty}
    shop.leftovers.clear()
    if left:
        shop.ledger.post(
            "disposed",
            changes=[shop.ledger.take(lot, lot.qty) for lot in left.values()],
            by_id=shop.floor.owner_id,
            outside_kind="loss",
            reason="not to be used",
        )


def count(shop: Shop) -> None:
    """Count some lots; a few hold a little less or more than the books say."""
    ledger, writer, by_id = shop.ledger, shop.writer, shop.floor.owner_id
    shelves = [lot for shelf in ledger.shelf.values() for lot in shelf if lot.qty > 100]
    lots = shop.random.sample(shelves, min(LOTS_COUNTED, len(shelves)))
    if not lots:
        return
    shop.pass_time(3600)
    expected = {lot.id: lot.qty for lot in lots}
    differ = [lot for lot in lots if shop.random.random() < DIFFERS]
    changes = [_difference(shop, lot) for lot in differ]
    posting = None
    if changes:
        posting = ledger.post(
            "counted",
            changes=changes,
            by_id=by_id,
            outside_kind="count_difference",
            reason="monthly count",
        )
    at = moment(ledger.now)
    number = writer.append(Count, at, at, by_id, "monthly count", posting)
    for lot in lots:
        writer.append(CountLine, number, lot.id, expected[lot.id], lot.qty)
        lot.touched_at = ledger.now


def hold_and_release(shop: Shop, item_id: int) -> None:
    """Hold the newest lot of something bought, find nothing, and let it go."""
    ledger, writer, by_id = shop.ledger, shop.writer, shop.floor.owner_id
    lots = [lot for lot in ledger.shelf[item_id] if lot.qty]
    if not lots:
        return
    lot = lots[-1]
    shop.pass_time(600)
    at = moment(ledger.now)
    hold = writer.append(Hold, lot.id, at, at, by_id, "a complaint")
    writer.append(HeldLot, hold, lot.id, "released")
    ledger.note(lot, "disposition", "released", "held", by_id=by_id)
    shop.pass_time(3600)
    at = moment(ledger.now)
    writer.append(HoldRelease, hold, at, at, by_id, "tested, nothing found")
    ledger.note(lot, "disposition", "held", "released", by_id=by_id)


def close_books(shop: Shop) -> None:
    """Close the books through the day before."""
    now = shop.ledger.now
    shop.writer.append(
        BooksClosing, day(now - 86_400), moment(now), shop.floor.owner_id, "end of the year"
    )


def _difference(shop: Shop, lot: Held) -> Change:
    """A hundredth is missing, or so much too many."""
    if shop.random.random() < 0.7:
        return shop.ledger.take(lot, lot.qty // 100)
    more = lot.qty // 100
    return (lot, more, lot.value * more // lot.qty)
