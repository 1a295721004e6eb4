"""Doors of lots and of what is done to one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from inventory.stock import operations
from inventory.stock.api.shapes import (
    AdjustSerializer,
    DisposeSerializer,
    ExtendSerializer,
    HoldPageOut,
    LotOut,
    LotPageOut,
    MoveSerializer,
    PartSerializer,
    PostingOut,
    RevalueSerializer,
    SplitSerializer,
    WhenWhySerializer,
)
from inventory.stock.api.stamped import LotActionDoor, lot_json
from inventory.stock.filters import LotFilter
from inventory.stock.selectors.amounts import Wanted, lots_qty_base
from inventory.stock.selectors.lots import as_json, hold_page, lot_page, lot_row, lots
from inventory.stock.selectors.postings import posting_row
from shopfloor.doors import ANYONE, BENCHES, LEADS, OWNERS, WRITERS, Door, ListDoor
from shopfloor.money import parse_money


def posted_json(posted: Any) -> Any:
    """A posting that an operation answers."""
    return as_json(posting_row(posted.posting.code))


class LotsDoor(ListDoor):
    """Lots, newest last."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": LotOut}
    filterset_class = LotFilter
    search_fields = ("code", "item__code", "item__name", "supplier_lot_code")
    ordering_fields = ("code", "born_at", "expires_at", "on_hand_base", "value_micro")

    def get_queryset(self) -> Any:
        """All lots."""
        return lots()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(lot_row(row)) for row in page]


class LotDoor(Door):
    """One lot, its holds and its history."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": LotPageOut}

    def get(self, request: Request, code: str) -> Response:
        """The lot."""
        return Response(as_json(lot_page(code.upper())))


class SplitDoor(LotActionDoor):
    """Make part of a lot a lot of its own."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": SplitSerializer}
    gives: ClassVar = {"POST": (201, LotOut)}

    def post(self, request: Request, code: str) -> Response:
        """Split it."""
        body = self.read()
        wanted = Wanted(code.upper(), body["amount"], body["unit"])
        return self.once(
            request,
            operations.split_off,
            lot_json,
            lot_code=wanted.lot_code,
            qty_base=lots_qty_base([wanted])[0],
            place_code=body["place"],
            stamp=self.stamp(body),
        )


class MoveDoor(LotActionDoor):
    """Put a lot, or part of it, somewhere else."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": MoveSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Move it."""
        body = self.read()
        return self.once(
            request,
            operations.move_lot,
            lot_json,
            lot_code=code.upper(),
            place_code=body["place"],
            qty_base=self.part(code.upper(), body),
            stamp=self.stamp(body),
        )


class OpenDoor(LotActionDoor):
    """Open a container: the whole lot, or an amount of it as a lot of its own."""

    roles: ClassVar = {"POST": BENCHES}
    takes: ClassVar = {"POST": PartSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Open it."""
        body = self.read()
        return self.once(
            request,
            operations.open_lot,
            lot_json,
            lot_code=code.upper(),
            qty_base=self.part(code.upper(), body),
            stamp=self.stamp(body),
        )


class HoldDoor(LotActionDoor):
    """Hold a lot and everything it flowed into that is still ours."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (201, HoldPageOut)}

    def post(self, request: Request, code: str) -> Response:
        """Hold it."""
        return self.once(
            request,
            operations.hold_lot,
            lambda hold: as_json(hold_page(hold.code)),
            lot_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class ReleaseDoor(LotActionDoor):
    """Release a quarantined or rejected lot, or end the hold placed on this lot."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}

    def post(self, request: Request, code: str) -> Response:
        """Release it."""
        return self.once(
            request,
            operations.release_lot,
            lot_json,
            lot_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class RejectDoor(LotActionDoor):
    """Reject a lot for good."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}

    def post(self, request: Request, code: str) -> Response:
        """Reject it."""
        return self.once(
            request,
            operations.reject_lot,
            lot_json,
            lot_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class ExtendExpiryDoor(LotActionDoor):
    """Give a lot a later expiry after a test."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": ExtendSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Extend it."""
        body = self.read()
        return self.once(
            request,
            operations.extend_expiry,
            lot_json,
            lot_code=code.upper(),
            expires_at=body["expires_at"],
            stamp=self.stamp(body),
        )


class DisposeDoor(LotActionDoor):
    """Throw an amount of a lot away; follow the safety data sheet and local codes."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": DisposeSerializer}
    gives: ClassVar = {"POST": (201, PostingOut)}

    def post(self, request: Request, code: str) -> Response:
        """Dispose of it."""
        body = self.read()
        wanted = Wanted(code.upper(), body["amount"], body["unit"])
        return self.once(
            request,
            operations.dispose_of_lot,
            posted_json,
            lot_code=wanted.lot_code,
            qty_base=lots_qty_base([wanted])[0],
            stamp=self.stamp(body),
        )


class AdjustDoor(LotActionDoor):
    """Correct a lot by an amount that no entry can be reversed for."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": AdjustSerializer}
    gives: ClassVar = {"POST": (201, PostingOut)}

    def post(self, request: Request, code: str) -> Response:
        """Adjust it."""
        body = self.read()
        wanted = Wanted(code.upper(), body["amount"], body["unit"])
        return self.once(
            request,
            operations.adjust_lot,
            posted_json,
            lot_code=wanted.lot_code,
            qty_base=lots_qty_base([wanted])[0],
            stamp=self.stamp(body),
        )


class RevalueDoor(LotActionDoor):
    """Add late freight or an invoice difference to what is left of a lot."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": RevalueSerializer}
    gives: ClassVar = {"POST": (201, PostingOut)}

    def post(self, request: Request, code: str) -> Response:
        """Revalue it."""
        body = self.read()
        return self.once(
            request,
            operations.revalue_lot,
            posted_json,
            lot_code=code.upper(),
            value_micro=parse_money(body["value"], allow_negative=True),
            document=body["document"],
            stamp=self.stamp(body),
        )
