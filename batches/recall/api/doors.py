"""Doors of recalls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.recall import operations
from batches.recall.api.shapes import (
    LetterOut,
    LettersSerializer,
    NoteSerializer,
    RecallOut,
    RecallPageOut,
    RecallSerializer,
    RiskOut,
    SuspectSerializer,
)
from batches.recall.filters import RecallFilter
from batches.recall.selectors.asked import Asked
from batches.recall.selectors.cases import letters_of, preview, recall_page, recall_rows, recalls
from batches.recall.steps import NoteDraft
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, LEADS, PACKERS, Door, ListDoor, StampedDoor, WhenWhySerializer

SUSPECTS = ("lots", "batches", "boxes", "equipment", "first_on", "last_on")


def _asked(body: Mapping[str, Any]) -> Asked:
    return Asked(**{name: body[name] for name in SUSPECTS if name in body})


class RecallsDoor(ListDoor, StampedDoor):
    """Recalls, newest first; and a new one, which holds everything at risk if it is real."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": RecallSerializer}
    gives: ClassVar = {"GET": RecallOut, "POST": RecallPageOut}
    filterset_class = RecallFilter
    ordering_fields = ("at", "recorded_at")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All recalls."""
        return recalls()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(row) for row in recall_rows(page)]

    def post(self, request: Request) -> Response:
        """Begin it."""
        body = self.read()
        return self.once(
            request,
            operations.begin_recall,
            _page_json,
            kind=body["kind"],
            asked=_asked(body),
            stamp=self.stamp(body),
        )


class RecallPreviewDoor(Door):
    """Everything at risk from something suspect; writes nothing."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": SuspectSerializer}
    gives: ClassVar = {"POST": (200, RiskOut)}

    def post(self, request: Request) -> Response:
        """Trace it and weigh it up."""
        return Response(as_json(preview(_asked(self.read()))))


class RecallDoor(Door):
    """One case: what is at risk now, who has it, what was done."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": RecallPageOut}

    def get(self, request: Request, code: str) -> Response:
        """All of it."""
        return Response(as_json(recall_page(code)))


class LettersDoor(ListDoor):
    """Whom to write to: what each customer got, by shipment and item, in which boxes."""

    roles: ClassVar = {"GET": ANYONE}
    asks = LettersSerializer
    gives: ClassVar = {"GET": LetterOut}
    filter_backends = []  # nobody at risk is left out

    def get_queryset(self) -> Any:
        """By customer."""
        return letters_of(self.asked().get("recall"))

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(row) for row in page]


class NotesDoor(StampedDoor):
    """What was done or heard in a recall."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": NoteSerializer}
    gives: ClassVar = {"POST": RecallPageOut}

    def post(self, request: Request, code: str) -> Response:
        """Write it down."""
        body = self.read()
        draft = NoteDraft(
            customer_code=body["customer"],
            item_code=body["item"],
            destroyed_base=body["destroyed"],
        )
        return self.once(
            request,
            operations.note_in_recall,
            _page_json,
            recall_code=code,
            draft=draft,
            stamp=self.stamp(body),
        )


class CloseDoor(StampedDoor):
    """The end of a recall."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, RecallPageOut)}

    def post(self, request: Request, code: str) -> Response:
        """Close it with a conclusion; its holds stay until a lead releases them."""
        body = self.read()
        return self.once(
            request,
            operations.close_recall,
            _page_json,
            recall_code=code,
            stamp=self.stamp(body),
        )


def _page_json(recall: Any) -> Any:
    """A case that an operation answers."""
    return as_json(recall_page(recall.code))
