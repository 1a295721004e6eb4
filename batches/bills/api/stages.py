"""Doors of stages."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet

from batches.bills import operations
from batches.bills.api.shapes import ChangeStageSerializer, NewStageSerializer, StageOut
from batches.bills.filters import StageFilter
from batches.bills.selectors import bills as selectors
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor


class StagesDoor(CatalogListDoor):
    """Stages, in the order of the shop."""

    takes: ClassVar = {"POST": NewStageSerializer}
    gives: ClassVar = {"GET": StageOut, "POST": StageOut}
    create = operations.create_stage
    filterset_class = StageFilter
    search_fields = ("code", "name")
    ordering_fields = ("position", "code", "name")
    ordering: ClassVar = ("position",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.stages()

    def found(self, code: str) -> Any:
        """One stage."""
        return selectors.stage(code)


class StageDoor(OneDoor):
    """One stage."""

    gives: ClassVar = {"GET": StageOut}

    def found(self, code: str) -> Any:
        """One stage."""
        return selectors.stage(code)


class StageChangeDoor(ChangeDoor):
    """A change of a stage."""

    takes: ClassVar = {"POST": ChangeStageSerializer}
    gives: ClassVar = {"POST": (200, StageOut)}
    change = operations.change_stage

    def found(self, code: str) -> Any:
        """One stage."""
        return selectors.stage(code)
