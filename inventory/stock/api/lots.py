"""Doors of lots and of what is done to one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from inventory.stock import operations
from inventory.stock.api.acting import LotActionDoor, LotAmountDoor, LotPartDoor, lot_json
from inventory.stock.api.shapes import (
    AdjustSerializer,
    DisposeSerializer,
    ExtendSerializer,
    HoldPageOut,
    LotOut,
    LotPageOut,
    MoveSerializer,
    PartSerializer,
    RevalueSerializer,
    SplitSerializer,
)
from inventory.stock.filters import LotFilter
from inventory.stock.selectors.listed import lots_found, lots_json, lots_shown
from inventory.stock.selectors.lots import as_json, hold_page, lot_page
from shopfloor.code_filter import asked_codes
from shopfloor.doors import (
    ANYONE,
    BENCHES,
    LEADS,
    OWNERS,
    WRITERS,
    Door,
    ListDoor,
    WhenWhySerializer,
)
from shopfloor.doors.kept import kept_list
from shopfloor.money import parse_money


class LotsDoor(ListDoor):
    """Lots, newest last."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": LotOut}
    filterset_class = LotFilter
    search_fields = ("code", "item__code", "item__name", "supplier_lot_code")
    ordering_fields = ("code", "born_at", "expires_at", "on_hand_base", "value_micro")

    def get_queryset(self) -> Any:
        """All lots."""
        return lots_found()

    def listed(self) -> Any:
        """Those that are asked for, with their columns."""
        return lots_shown(super().listed())

    def paged(self) -> Any:
        """The same, by statements that are kept."""
        query = self.request.query_params
        codes = asked_codes(LotFilter, query)
        return kept_list(LotsDoor, query, super().listed, lots_shown, codes)

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return lots_json(page)


class LotDoor(Door):
    """One lot, its holds and its history."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": LotPageOut}

    def get(self, request: Request, code: str) -> Response:
        """The lot."""
        return Response(as_json(lot_page(code.upper())))


class SplitDoor(LotAmountDoor):
    """Make part of a lot a lot of its own."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": SplitSerializer}
    gives: ClassVar = {"POST": (201, LotOut)}
    operation = operations.split_off

    def render(self, result: Any) -> Any:
        """The part."""
        return lot_json(result)

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """How much, and where."""
        return {**super().more(lot_code, body), "place_code": body["place"]}


class MoveDoor(LotPartDoor):
    """Put a lot, or part of it, somewhere else."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": MoveSerializer}
    operation = operations.move_lot

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """How much, and where."""
        return {**super().more(lot_code, body), "place_code": body["place"]}


class OpenDoor(LotPartDoor):
    """Open a container: the whole lot, or an amount of it as a lot of its own."""

    roles: ClassVar = {"POST": BENCHES}
    takes: ClassVar = {"POST": PartSerializer}
    operation = operations.open_lot


class HoldDoor(LotActionDoor):
    """Hold a lot and everything it flowed into that is still ours."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (201, HoldPageOut)}
    operation = operations.hold_lot

    def render(self, result: Any) -> Any:
        """The hold and the lots it stopped."""
        return as_json(hold_page(result.code))


class ReleaseDoor(LotActionDoor):
    """Release a quarantined or rejected lot, or end the hold placed on this lot."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    operation = operations.release_lot


class RejectDoor(LotActionDoor):
    """Reject a lot."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    operation = operations.reject_lot


class ExtendExpiryDoor(LotActionDoor):
    """Give a lot a later expiry after a test."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": ExtendSerializer}
    operation = operations.extend_expiry

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """Until when."""
        return {"expires_at": body["expires_at"]}


class DisposeDoor(LotAmountDoor):
    """Throw an amount of a lot away; follow the safety data sheet and local codes."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": DisposeSerializer}
    operation = operations.dispose_of_lot


class AdjustDoor(LotAmountDoor):
    """Correct a lot by an amount that no entry can be reversed for."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": AdjustSerializer}
    operation = operations.adjust_lot


class RevalueDoor(LotAmountDoor):
    """Add late freight or an invoice difference to what is left of a lot."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": RevalueSerializer}
    operation = operations.revalue_lot

    def more(self, lot_code: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """How much value, and by which invoice."""
        value_micro = parse_money(body["value"], allow_negative=True)
        return {"value_micro": value_micro, "document": body["document"]}
