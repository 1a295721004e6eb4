"""What all of the generated days share: the floor, the ledger, and the keys of requests."""

from __future__ import annotations

from random import Random

from shopfloor.models import RequestKey
from tests.bench.past.floor import Floor
from tests.bench.past.ledger import Change, Held, Ledger
from tests.bench.past.writing import Writer, moment


class Shop:
    """The made-up shop while its past is generated."""

    def __init__(self, floor: Floor, writer: Writer, random: Random, *, now: int) -> None:
        self.floor, self.writer, self.random = floor, writer, random
        self.ledger = Ledger(writer, random, now=now)
        self.entries = 0
        self.leftovers: list[Held] = []  # seconds, runners, what is left in the pot

    def pass_time(self, seconds: int) -> None:
        """Some time goes by, up to so many seconds."""
        self.ledger.now += self.random.randint(1, seconds)

    def some_time_ago(self) -> int:
        """When what is written down now happened: most people write it down at once."""
        return self.ledger.now - (self.random.randint(0, 500) if self.random.random() < 0.3 else 0)

    def keep_key(self, code: str, lots: list[Change], made: list[Held], *, by_id: int) -> None:
        """The request that did it, with an answer of the usual size."""
        items = self.floor.items
        rows = [
            f'{{"lot": "{lot.code}", "item": "{items[lot.item_id][0]}", "amount":'
            f' {{"amount": "{abs(qty)}", "unit": "each"}}, "value": "{abs(value) / 1e6:.6f}"}}'
            for lot, qty, value in [*lots, *((lot, lot.qty, lot.value) for lot in made)]
        ]
        at = moment(self.ledger.now)
        self.writer.append(
            RequestKey,
            by_id,
            f"key-{code}",
            f"{self.random.getrandbits(256):064x}",
            201,
            f'{{"code": "{code}", "at": "{at}", "lots": [{", ".join(rows)}]}}',
            at,
        )
