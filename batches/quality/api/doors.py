"""Doors of checks and their definitions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.quality import operations
from batches.quality.api.shapes import (
    ChangeDefinitionSerializer,
    ChartAskSerializer,
    ChartsOut,
    CheckOut,
    CheckSerializer,
    DefinitionOut,
    NewDefinitionSerializer,
    PlanAskSerializer,
    PlanOut,
)
from batches.quality.filters import CheckFilter, DefinitionFilter
from batches.quality.selectors.charts import charts
from batches.quality.selectors.checks import check_row, checks, row_of
from batches.quality.selectors.definitions import definition_row, definitions
from batches.quality.selectors.plans import plan_row
from batches.quality.steps.checking import CheckDraft, ResultDraft
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, BENCHES, Door, ListDoor, StampedDoor


class DefinitionsDoor(CatalogListDoor):
    """What is tested at each stage; and a new test."""

    takes: ClassVar = {"POST": NewDefinitionSerializer}
    gives: ClassVar = {"GET": DefinitionOut, "POST": DefinitionOut}
    create = operations.create_definition
    filterset_class = DefinitionFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name")

    def get_queryset(self) -> Any:
        """All of them."""
        return definitions()

    def found(self, code: str) -> Any:
        """One definition."""
        return definition_row(code)


class DefinitionDoor(OneDoor):
    """One definition."""

    gives: ClassVar = {"GET": DefinitionOut}

    def found(self, code: str) -> Any:
        """One definition."""
        return definition_row(code)


class DefinitionChangeDoor(ChangeDoor):
    """A change of a definition."""

    takes: ClassVar = {"POST": ChangeDefinitionSerializer}
    gives: ClassVar = {"POST": (200, DefinitionOut)}
    change = operations.change_definition

    def found(self, code: str) -> Any:
        """One definition."""
        return definition_row(code)


class ChecksDoor(ListDoor, StampedDoor):
    """Checks, oldest first; and a new one, which holds what fails it."""

    roles: ClassVar = {"GET": ANYONE, "POST": BENCHES}
    takes: ClassVar = {"POST": CheckSerializer}
    gives: ClassVar = {"GET": CheckOut, "POST": (201, CheckOut)}
    filterset_class = CheckFilter
    ordering_fields = ("at", "recorded_at")

    def get_queryset(self) -> Any:
        """All checks."""
        return checks()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their results."""
        return [as_json(row_of(row)) for row in page]

    def post(self, request: Request) -> Response:
        """Record it."""
        body = self.read()
        draft = CheckDraft(
            definition_code=body["definition"],
            lot_code=body["lot"],
            batch_code=body["batch"],
            replaces=body["replaces"],
            results=[
                ResultDraft(row["tested"], row["failed"], row["value"], row["equipment"])
                for row in body["results"]
            ],
        )
        return self.once(
            request,
            operations.check,
            lambda check: as_json(check_row(check.code)),
            draft=draft,
            stamp=self.stamp(body),
        )


class CheckDoor(Door):
    """One check with its results."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": CheckOut}

    def get(self, request: Request, code: str) -> Response:
        """The check."""
        return Response(as_json(check_row(code)))


class PlanDoor(Door):
    """How many pieces of a lot or batch to test now, what passes, how often bad ones get by."""

    roles: ClassVar = {"GET": ANYONE}
    asks = PlanAskSerializer
    gives: ClassVar = {"GET": PlanOut}

    def get(self, request: Request) -> Response:
        """The plan."""
        return Response(as_json(plan_row(**self.asked())))


class ChartDoor(Door):
    """Control charts of a check, the rules that fired, and what the process can hold."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ChartAskSerializer
    gives: ClassVar = {"GET": ChartsOut}

    def get(self, request: Request) -> Response:
        """The charts."""
        return Response(as_json(charts(**self.asked())))
