"""Doors every table of the catalog has: one row by its code, and a change of it."""

from __future__ import annotations

from typing import Any, ClassVar

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.operation import Operation


class OneDoor(Door):
    """One row by its code. A subclass declares `gives` and `found`."""

    roles: ClassVar = {"GET": ANYONE}

    def found(self, code: str) -> Any:
        """The row, from a selector."""
        raise NotImplementedError

    def get(self, request: Request, code: str) -> Response:
        """The one with this code."""
        return Response(answer(self, "GET", self.found(code)))


class ChangeDoor(Door):
    """A change of one row. A subclass declares `takes`, `gives`, `change` and `found`."""

    roles: ClassVar = {"POST": LEADS}
    change: ClassVar[Operation[..., Any]]

    def found(self, code: str) -> Any:
        """The row, from a selector."""
        raise NotImplementedError

    def post(self, request: Request, code: str) -> Response:
        """Change the fields that are named; the rest stays. Kept: who changed what, and when."""
        return self.once(
            request,
            self.change,
            lambda row: answer(self, "POST", self.found(row.code)),
            code=code,
            fields=self.read(),
            by=self.person,
            at=timezone.now(),
        )


class CatalogListDoor(ListDoor):
    """A list, and a new row. A subclass declares what a list does, `create` and `found`."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    create: ClassVar[Operation[..., Any]]
    ordering: ClassVar = ("code",)

    def found(self, code: str) -> Any:
        """The row, from a selector."""
        raise NotImplementedError

    def post(self, request: Request) -> Response:
        """Enter a new one."""
        fields = self.read()
        return self.once(
            request,
            self.create,
            lambda row: answer(self, "POST", self.found(row.code)),
            code=fields.pop("code"),
            fields=fields,
            by=self.person,
            at=timezone.now(),
        )


def answer(door: Door, method: str, row: Any) -> dict[str, Any]:
    """A row in the shape the door gives."""
    shape = door.given(method)[1]
    assert shape is not None
    return dict(shape(row).data)
