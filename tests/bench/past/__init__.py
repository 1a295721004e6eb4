"""A made-up shop's past, generated and written in bulk: a shop of many years in a minute or two.

The bills, items and people are the demo's; every amount is invented, and `manage.py verify` finds
nothing wrong with it. Same seed, same past.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from random import Random
from typing import Final, NamedTuple

from tests.bench.past.buying import open_one
from tests.bench.past.floor import enter_floor
from tests.bench.past.keeping import close_books, count, hold_and_release, throw_away
from tests.bench.past.making import Bench
from tests.bench.past.selling import Packer
from tests.bench.past.shop import Shop
from tests.bench.past.writing import loading

WORKDAYS_A_YEAR: Final = 261
CHAINS_A_DAY: Final = 7
BOXES_A_DAY: Final = 12
MORNING_SECONDS: Final = 13 * 3600  # UTC: in the shop's zone it is early
WEEK, MONTH = 5, 21  # in workdays


class Extent(NamedTuple):
    """How much happened."""

    entries: int
    movements_taken: int
    boxes: int


def fill(*, workdays: int, last_day: datetime, model: str = "", seed: int = 1) -> Extent:
    """Fill a migrated, empty database with so many workdays.

    Args:
        workdays: `WORKDAYS_A_YEAR` a year.
        last_day: Its day is the last one.
        model: Make the lures of this one only; the bills of all take a few seconds to enter.
        seed: Of all that is random.
    """
    floor = enter_floor(model=model)
    first_day = last_day - timedelta(days=workdays * 7 // 5 + 3)
    random = Random(seed)  # noqa: S311 - not a secret
    with loading() as writer:
        shop = Shop(floor, writer, random, now=int(first_day.timestamp()))
        bench, packer = Bench(shop), Packer(shop)
        for number in range(workdays):
            morning = first_day.replace(hour=0, minute=0, second=0, microsecond=0)
            morning += timedelta(days=number // 5 * 7 + number % 5)
            shop.ledger.now = max(shop.ledger.now, int(morning.timestamp()) + MORNING_SECONDS)
            packer.ship()
            for chain in random.choices(floor.chains, k=CHAINS_A_DAY):
                bench.make_chain(chain)
            packer.pack(BOXES_A_DAY)
            _beside(shop, number)
        bench.leave_running()
        packer.leave_standing()
        shop.ledger.write_rest()
    return Extent(shop.entries, shop.ledger.movements_taken, packer.boxes)


def _beside(shop: Shop, number: int) -> None:
    """What is not done every day."""
    bought = [item for item in shop.ledger.shelf if item not in shop.floor.sheets]
    if number % 3 == 2:
        open_one(shop, shop.random.choice(bought))
    if number % WEEK == WEEK - 1:
        throw_away(shop)
    if number % MONTH == MONTH - 1:
        count(shop)
        hold_and_release(shop, shop.random.choice(bought))
    if number % WORKDAYS_A_YEAR == WORKDAYS_A_YEAR - 60:
        close_books(shop)


def today() -> datetime:
    """The last day of a past that is made now: yesterday, so that nothing lies in the future."""
    return datetime.now(UTC) - timedelta(days=1)
