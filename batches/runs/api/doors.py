"""Doors of batches, entries and scrap reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from batches.runs import operations
from batches.runs.api.reading import batch_plan, entry_draft
from batches.runs.api.shapes import (
    BatchOut,
    BatchPageOut,
    EntryOut,
    EntrySerializer,
    PlanSerializer,
    RecordedOut,
    ReversedOut,
    ScrapReasonOut,
    ScrapReasonSerializer,
)
from batches.runs.filters import BatchFilter, EntryFilter
from batches.runs.selectors.batches import (
    batch_by_id,
    batch_page,
    batch_row,
    batches,
    entries,
    entry_row,
    entry_rows,
    scrap_reasons,
)
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, BENCHES, LEADS, Door, ListDoor, StampedDoor, WhenWhySerializer
from shopfloor.operation import Operation


def batch_json(batch: Any) -> Any:
    """A batch that an operation answers."""
    return as_json(batch_by_id(batch.pk))


class BatchesDoor(ListDoor, StampedDoor):
    """Batches, oldest first; and a new one, planned."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": PlanSerializer}
    gives: ClassVar = {"GET": BatchOut, "POST": (201, BatchOut)}
    filterset_class = BatchFilter
    search_fields = ("code", "item__code", "item__name", "note")
    ordering_fields = ("code", "planned_on", "recorded_at")

    def get_queryset(self) -> Any:
        """All batches."""
        return batches()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(batch_row(batch)) for batch in page]

    def post(self, request: Request) -> Response:
        """Plan it."""
        body = self.read()
        return self.once(
            request, operations.plan, batch_json, plan=batch_plan(body), stamp=self.stamp({})
        )


class BatchDoor(Door):
    """One batch with its states and entries."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": BatchPageOut}

    def get(self, request: Request, code: str) -> Response:
        """The batch."""
        return Response(as_json(batch_page(code.upper())))


class BatchStateDoor(StampedDoor):
    """Change a batch's state."""

    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, BatchOut)}
    operation: ClassVar[Operation[..., Any]]

    def post(self, request: Request, code: str) -> Response:
        """Change it."""
        return self.once(
            request,
            self.operation,
            batch_json,
            batch_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class ReadyDoor(BatchStateDoor):
    """Give a planned batch to the bench."""

    roles: ClassVar = {"POST": LEADS}
    operation = operations.ready_batch


class StartDoor(BatchStateDoor):
    """Start a planned or idle batch."""

    roles: ClassVar = {"POST": BENCHES}
    operation = operations.start_batch


class PauseDoor(BatchStateDoor):
    """Hold a running batch."""

    roles: ClassVar = {"POST": BENCHES}
    operation = operations.hold_batch


class ResumeDoor(BatchStateDoor):
    """Let a held batch run again."""

    roles: ClassVar = {"POST": BENCHES}
    operation = operations.resume_batch


class CompleteDoor(BatchStateDoor):
    """End a running batch."""

    roles: ClassVar = {"POST": BENCHES}
    operation = operations.complete_batch


class AbortDoor(BatchStateDoor):
    """End a batch for good before its time."""

    roles: ClassVar = {"POST": LEADS}
    operation = operations.abort_batch


class BatchEntriesDoor(StampedDoor):
    """Record what was made, scrapped and used."""

    roles: ClassVar = {"POST": BENCHES}
    takes: ClassVar = {"POST": EntrySerializer}
    gives: ClassVar = {"POST": (201, RecordedOut)}

    def post(self, request: Request, code: str) -> Response:
        """Record it."""
        body = self.read()
        return self.once(
            request,
            operations.record,
            as_json,
            draft=entry_draft(code.upper(), body),
            stamp=self.stamp(body),
        )


class EntriesDoor(ListDoor):
    """Entries, oldest first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": EntryOut}
    filterset_class = EntryFilter
    ordering_fields = ("posting__at", "posting__recorded_at")

    def get_queryset(self) -> Any:
        """All entries."""
        return entries()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with what they took and made."""
        return [as_json(row) for row in entry_rows(page)]


class EntryDoor(Door):
    """One entry with what it took and made."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": EntryOut}

    def get(self, request: Request, code: str) -> Response:
        """The entry."""
        return Response(as_json(entry_row(code)))


class EntryReverseDoor(StampedDoor):
    """Undo an entry wholly."""

    roles: ClassVar = {"POST": BENCHES}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, ReversedOut)}

    def post(self, request: Request, code: str) -> Response:
        """Reverse it."""
        return self.once(
            request,
            operations.reverse,
            lambda undone: {
                "code": undone[0].code,
                "batch": undone[0].batch.code,
                "reversed_by": undone[1].posting.code,
            },
            entry_code=code,
            stamp=self.stamp(self.read()),
        )


class ScrapReasonsDoor(ListDoor):
    """Reasons for scrap; and a new one."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": ScrapReasonSerializer}
    gives: ClassVar = {"GET": ScrapReasonOut, "POST": (201, ScrapReasonSerializer)}

    def get_queryset(self) -> Any:
        """All scrap reasons."""
        return scrap_reasons()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return page

    def post(self, request: Request) -> Response:
        """Add it."""
        body = self.read()
        return self.once(
            request,
            operations.add_scrap_reason,
            lambda reason: {"code": reason.code, "name": reason.name, "stage": body["stage"]},
            code=body["code"],
            name=body["name"],
            stage_code=body["stage"],
            by=self.person,
            at=timezone.now(),
        )
