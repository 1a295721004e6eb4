"""What the doors of lots have in common: what is done to one, and a lot as an answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from inventory.stock.api.shapes import LotOut, PostingOut
from inventory.stock.selectors.amounts import Wanted, lots_qty_base
from inventory.stock.selectors.lots import as_json, lot_by_id
from inventory.stock.selectors.postings import posting_row
from shopfloor.doors import StampedDoor
from shopfloor.fields import Amount
from shopfloor.operation import Operation


def lot_json(lot: Any) -> Any:
    """A lot that an operation answers."""
    return as_json(lot_by_id(lot.pk))


def posted_json(posted: Any) -> Any:
    """A posting that an operation answers."""
    return as_json(posting_row(posted.posting.code))


class LotActionDoor(StampedDoor):
    """A door for something done to one lot, named in the address.

    Attributes:
        operation: What is done; takes `lot_code`, `stamp` and what `more` gives.
    """

    gives: ClassVar = {"POST": (200, LotOut)}
    operation: ClassVar[Operation[..., Any]]

    def render(self, result: Any) -> Any:
        """The answer, out of the operation's result: the lot."""
        return lot_json(result)

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """What the operation takes besides."""
        return {}

    def post(self, request: Request, code: str) -> Response:
        """Do it."""
        body, lot_code = self.read(), code.upper()
        return self.once(
            request,
            self.operation,
            self.render,
            lot_code=lot_code,
            stamp=self.stamp(body),
            **self.more(lot_code, body),
        )


class LotPartDoor(LotActionDoor):
    """A door for something done to a lot, or to an amount of it."""

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """Base units of the part; None for the whole lot."""
        amount: Amount | None = body.get("part")
        wanted = [] if amount is None else [Wanted(lot_code, amount.amount, amount.unit)]
        return {"qty_base": lots_qty_base(wanted)[0] if wanted else None}


class LotAmountDoor(LotActionDoor):
    """A door for something done to an amount of a lot; answers the posting."""

    gives: ClassVar = {"POST": (201, PostingOut)}

    def render(self, result: Any) -> Any:
        """The posting."""
        return posted_json(result)

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """Base units of the amount."""
        return {"qty_base": lots_qty_base([Wanted(lot_code, body["amount"], body["unit"])])[0]}
