"""Doors of counts, holds, postings and the closing of the books."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from inventory.stock import operations
from inventory.stock.api.shapes import (
    BooksOut,
    CloseBooksSerializer,
    CountOut,
    CountSerializer,
    FreedOut,
    HoldOut,
    HoldPageOut,
    PostingOut,
    PreviewOut,
)
from inventory.stock.filters import HoldFilter, PostingFilter
from inventory.stock.operations import Found
from inventory.stock.selectors.amounts import Wanted, Weighed, found_base
from inventory.stock.selectors.counting import count_preview
from inventory.stock.selectors.lots import as_json, hold_page, hold_row, holds, lots_by_id
from inventory.stock.selectors.postings import (
    count_row,
    count_rows,
    counts,
    posting_row,
    posting_rows,
    postings,
)
from shopfloor.doors import (
    ANYONE,
    LEADS,
    OWNERS,
    WRITERS,
    Door,
    ListDoor,
    StampedDoor,
    WhenWhySerializer,
)


def _found(lines: Sequence[Mapping[str, Any]]) -> list[Wanted | Weighed]:
    """What was found, as people wrote it; no tare means an empty scale pan."""
    return [
        Wanted(line["lot"], *line["found"])
        if "found" in line
        else Weighed(line["lot"], tuple(line["gross"]), tuple(line.get("tare", NO_TARE)))
        for line in lines
    ]


def _expected(lines: Sequence[Mapping[str, Any]]) -> dict[str, int]:
    """What the counter was shown, base units by lot, where the line says it."""
    shown = [Wanted(line["lot"], *line["expected"]) for line in lines if "expected" in line]
    return {row.lot_code: qty for row, qty in zip(shown, found_base(shown), strict=True)}


NO_TARE = (Decimal(0), "mg")


class CountsDoor(ListDoor, StampedDoor):
    """Counts, newest first; and a new one, whose difference is posted with a reason."""

    roles: ClassVar = {"GET": ANYONE, "POST": WRITERS}
    takes: ClassVar = {"POST": CountSerializer}
    gives: ClassVar = {"GET": CountOut, "POST": (201, CountOut)}

    def get_queryset(self) -> Any:
        """All counts."""
        return counts()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their lines."""
        return [as_json(row) for row in count_rows(page)]

    def post(self, request: Request) -> Response:
        """Post the count."""
        body = self.read()
        found, expected = _found(body["lines"]), _expected(body["lines"])
        return self.once(
            request,
            operations.count_lots,
            lambda count: as_json(count_rows([count])[0]),
            found=[
                Found(row.lot_code, qty_base, expected.get(row.lot_code))
                for row, qty_base in zip(found, found_base(found), strict=True)
            ],
            stamp=self.stamp(body),
        )


class CountDoor(Door):
    """One count."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": CountOut}

    def get(self, request: Request, code: str) -> Response:
        """The count."""
        return Response(as_json(count_row(code)))


class CountReverseDoor(StampedDoor):
    """The undoing of a count that was wrong."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, CountOut)}

    def post(self, request: Request, code: str) -> Response:
        """Reverse it."""
        return self.once(
            request,
            operations.reverse_count,
            lambda posted: as_json(count_row(code)),
            count_code=code,
            stamp=self.stamp(self.read()),
        )


class CountPreviewDoor(Door):
    """What a count would change; writes nothing."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": CountSerializer}
    gives: ClassVar = {"POST": (200, PreviewOut)}

    def post(self, request: Request) -> Response:
        """Compare with the books."""
        return Response({"lines": as_json(count_preview(_found(self.read()["lines"])))})


class HoldsDoor(ListDoor):
    """Holds, newest first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": HoldOut}
    filterset_class = HoldFilter

    def get_queryset(self) -> Any:
        """All holds."""
        return holds()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(hold_row(hold)) for hold in page]


class HoldPageDoor(Door):
    """One hold and the lots it stopped."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": HoldPageOut}

    def get(self, request: Request, code: str) -> Response:
        """The hold."""
        return Response(as_json(hold_page(code)))


class HoldReleaseDoor(StampedDoor):
    """End a hold; lots that no other hold has are free again."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, FreedOut)}

    def post(self, request: Request, code: str) -> Response:
        """Release it."""
        return self.once(
            request,
            operations.release_hold,
            lambda freed: {"freed": as_json(lots_by_id(lot.pk for lot in freed))},
            hold_code=code,
            stamp=self.stamp(self.read()),
        )


class PostingsDoor(ListDoor):
    """Postings, newest first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": PostingOut}
    filterset_class = PostingFilter
    ordering_fields = ("at", "recorded_at")

    def get_queryset(self) -> Any:
        """All postings."""
        return postings()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their movements."""
        return [as_json(row) for row in posting_rows(page)]


class PostingDoor(Door):
    """One posting with its movements."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": PostingOut}

    def get(self, request: Request, code: str) -> Response:
        """The posting."""
        return Response(as_json(posting_row(code)))


class BooksClosingsDoor(StampedDoor):
    """Close the books through a day that is over."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": CloseBooksSerializer}
    gives: ClassVar = {"POST": (201, BooksOut)}

    def post(self, request: Request) -> Response:
        """Close them."""
        body = self.read()
        return self.once(
            request,
            operations.close_books,
            lambda closing: {"through": closing.through.isoformat()},
            through=body["through"],
            stamp=self.stamp(body),
        )
