"""Doors of boxes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.packing import operations, selectors
from batches.packing.api.shapes import (
    BoxOut,
    ContentsSerializer,
    NewBoxSerializer,
    PutInSerializer,
    SsccsOut,
    SsccsSerializer,
    TakeOutSerializer,
    WhySerializer,
)
from batches.packing.filters import BoxFilter
from shopfloor.doors import ANYONE, WRITERS, Door, ListDoor, StampedDoor
from shopfloor.operation import Operation


def boxes_json(boxes: Sequence[Any]) -> list[dict[str, Any]]:
    """Boxes as the API answers them."""
    return [dict(BoxOut(row).data) for row in selectors.box_rows(boxes)]


def box_json(box: Any) -> dict[str, Any]:
    """A box that an operation answers."""
    return boxes_json([selectors.box_named(box.code)])[0]


def _ssccs_json(boxes: Sequence[Any]) -> dict[str, Any]:
    codes = [box.code for box in boxes]
    ssccs = selectors.ssccs_of(codes)
    return {"ssccs": [{"box": code, "sscc": ssccs[code]} for code in codes]}


def _parts(body: Mapping[str, Any]) -> list[operations.Part]:
    return [operations.Part(part["lot"], part["pieces"]) for part in body["contents"]]


class BoxesDoor(ListDoor, StampedDoor):
    """Boxes and what is in them, or left in them; newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": WRITERS}
    takes: ClassVar = {"POST": NewBoxSerializer}
    gives: ClassVar = {"GET": BoxOut, "POST": BoxOut}
    filterset_class = BoxFilter
    search_fields = ("code", "sscc_row__sscc")
    ordering_fields = ("code", "packed_at")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All boxes."""
        return selectors.boxes()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with what is in them."""
        return boxes_json(page)

    def post(self, request: Request) -> Response:
        """Pack one: a part of a lot becomes a lot of its own in it, a whole lot moves into it."""
        body = self.read()
        return self.once(
            request,
            operations.pack_box,
            box_json,
            code=body["code"],
            parent_code=body["parent"],
            contents=_parts(body),
            stamp=self.stamp(body),
        )


class BoxDoor(Door):
    """One box."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": BoxOut}

    def get(self, request: Request, code: str) -> Response:
        """The box."""
        return Response(boxes_json([selectors.box_named(code.upper())])[0])


class BoxWriteDoor(StampedDoor):
    """What is done to a box."""

    roles: ClassVar = {"POST": WRITERS}
    gives: ClassVar = {"POST": (200, BoxOut)}

    def written(
        self, request: Request, operation: Operation[..., Any], code: str, **facts: Any
    ) -> Response:
        """Carry it out, once."""
        return self.once(request, operation, box_json, box_code=code.upper(), **facts)


class SsccsDoor(StampedDoor):
    """SSCCs of boxes: their numbers with carriers and customers."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": SsccsSerializer}
    gives: ClassVar = {"POST": (200, SsccsOut)}

    def post(self, request: Request) -> Response:
        """Allot one to each box that has none; a box keeps the one it has."""
        body = self.read()
        return self.once(
            request,
            operations.allot_ssccs,
            _ssccs_json,
            box_codes=body["boxes"],
            stamp=self.stamp(body),
        )


class AddDoor(BoxWriteDoor):
    """More for a box."""

    takes: ClassVar = {"POST": ContentsSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Put lots in."""
        body = self.read()
        return self.written(
            request, operations.add_to_box, code, contents=_parts(body), stamp=self.stamp(body)
        )


class TakeOutDoor(BoxWriteDoor):
    """Less in a box."""

    takes: ClassVar = {"POST": TakeOutSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Take lots out to a shelf or bench."""
        body = self.read()
        return self.written(
            request,
            operations.take_out_of_box,
            code,
            contents=_parts(body),
            place_code=body["place"],
            stamp=self.stamp(body),
        )


class CloseDoor(BoxWriteDoor):
    """The lid of a box."""

    takes: ClassVar = {"POST": WhySerializer}

    def post(self, request: Request, code: str) -> Response:
        """Close it."""
        return self.written(request, operations.close_box, code, stamp=self.stamp(self.read()))


class ReopenDoor(BoxWriteDoor):
    """A closed box that is packed again."""

    takes: ClassVar = {"POST": WhySerializer}

    def post(self, request: Request, code: str) -> Response:
        """Open it again."""
        return self.written(request, operations.reopen_box, code, stamp=self.stamp(self.read()))


class PutInDoor(BoxWriteDoor):
    """A box in a box."""

    takes: ClassVar = {"POST": PutInSerializer}

    def post(self, request: Request, code: str) -> Response:
        """Put it into an open one, or with null let it stand alone."""
        body = self.read()
        return self.written(
            request,
            operations.put_box_in,
            code,
            parent_code=body["parent"],
            stamp=self.stamp(body),
        )
