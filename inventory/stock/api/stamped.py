"""What the doors of this room have in common: the stamp of a body, and a lot as an answer."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from django.utils import timezone

from inventory.stock.api.shapes import LotOut
from inventory.stock.selectors.amounts import Wanted, lots_qty_base
from inventory.stock.selectors.lots import as_json, lot_by_id
from shopfloor.doors import Door
from shopfloor.fields import Amount
from shopfloor.stamp import Stamp


def lot_json(lot: Any) -> Any:
    """A lot that an operation answers."""
    return as_json(lot_by_id(lot.pk))


class StampedDoor(Door):
    """A door whose body says when and why."""

    def stamp(self, body: Mapping[str, Any]) -> Stamp:
        """Who, when, why; now when the body does not say.

        Raises:
            InFutureError: a time that has not come.
        """
        now = timezone.now()
        at: datetime = body.get("at") or now
        return Stamp(by=self.person, at=at, now=now, reason=body.get("reason", ""))


class LotActionDoor(StampedDoor):
    """A door for something done to one lot, named in the address."""

    gives: ClassVar = {"POST": (200, LotOut)}

    def part(self, code: str, body: Mapping[str, Any]) -> int | None:
        """Base units of the part named in the body; None for the whole lot."""
        amount: Amount | None = body.get("part")
        if amount is None:
            return None
        return lots_qty_base([Wanted(code, amount.amount, amount.unit)])[0]
