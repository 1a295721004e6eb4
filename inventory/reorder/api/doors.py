"""Doors of the reorder list and of what a person decides about an item."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.reorder import operations, selectors
from inventory.reorder.api.shapes import AskSerializer, PolicySerializer, ReorderOut, ReorderPageOut
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.doors.lists import OrderingUnknownError


class ReorderDoor(ListDoor):
    """What to reorder: every item that is bought or has a policy, the most urgent first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ReorderOut}
    asks = AskSerializer
    filter_backends = []  # they need a queryset, and this list is computed

    def listed(self) -> Any:
        """The list is computed whole, then filtered and ordered."""
        asked = self.asked()
        names = _ordering(asked.pop("ordering"))
        rows = selectors.selected(selectors.reorder_list(on=_today()), **asked)
        return selectors.ordered(rows, names)


class ReorderItemDoor(Door):
    """One item, whether or not the list has it."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ReorderPageOut}

    def get(self, request: Request, code: str) -> Response:
        """Its line, and every input of the advice."""
        return Response(ReorderPageOut(selectors.reorder_page(code=code, on=_today())).data)


class PolicyDoor(Door):
    """What a person decides about reordering an item."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": PolicySerializer}
    gives: ClassVar = {"POST": (200, ReorderOut)}

    def post(self, request: Request, code: str) -> Response:
        """Set or clear it. Kept: who changed what, and when."""
        return self.once(
            request,
            operations.set_reorder_policy,
            lambda policy: dict(
                ReorderOut(selectors.reorder_row(item_id=policy.pk, on=_today())).data
            ),
            item_code=code,
            fields=self.read(),
            by=self.person,
            at=timezone.now(),
        )


def _today() -> date:
    return shop_day(timezone.now())


def _ordering(asked: str) -> list[str]:
    names = [name.strip() for name in asked.split(",") if name.strip()]
    unknown = [name for name in names if name.removeprefix("-") not in selectors.ORDERS]
    if unknown:
        known = list(selectors.ORDERS)
        raise OrderingUnknownError(
            f"Rows cannot be ordered by {unknown[0][:40]}. Use: {', '.join(known)}.",
            unknown=unknown,
            known=known,
        )
    return names
