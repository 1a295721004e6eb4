"""Doors of bills of materials and their revisions."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from batches.bills import operations
from batches.bills.api.answers import bill_json, comparison_json, cost_json, where_used_json
from batches.bills.api.shapes import (
    AskCompareSerializer,
    AskCostSerializer,
    BillComparisonOut,
    BillOut,
    BillRowOut,
    BillStageSerializer,
    ChangeRevisionSerializer,
    CopyBillSerializer,
    CostOut,
    NewBillSerializer,
    NewRevisionSerializer,
    WhereUsedOut,
)
from batches.bills.filters import BillFilter
from batches.bills.selectors.bills import bill_detail, bills, comparison
from batches.bills.selectors.costs import cost_sheet
from batches.bills.selectors.graph import where_used
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.operation import Operation


class BillWriteDoor(Door):
    """A write that answers with the bill."""

    roles: ClassVar = {"POST": LEADS}

    def written(self, request: Request, operation: Operation[..., Any], **facts: Any) -> Response:
        """Carry it out, once."""
        return self.once(request, operation, bill_json, **facts, by=self.person, at=timezone.now())


class BillsDoor(ListDoor, BillWriteDoor):
    """Bills of materials."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewBillSerializer}
    gives: ClassVar = {"GET": BillRowOut, "POST": BillOut}
    filterset_class = BillFilter
    search_fields = ("item__code", "item__name")
    ordering_fields = ("item_code", "stage_code", "released_at")
    ordering = ("item_code",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return bills()

    def post(self, request: Request) -> Response:
        """Make a bill for an item at the stage that makes it, with a first draft."""
        body = self.read()
        return self.written(
            request,
            operations.create_bill,
            item_code=body.pop("item"),
            stage_code=body.pop("stage"),
            **body,
        )


class BillDoor(Door):
    """A bill with its current revision, else its newest, and the list of all."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": BillOut}

    def get(self, request: Request, item: str) -> Response:
        """The item's bill."""
        return Response(bill_json(bill_detail(item)))


class BillStageDoor(BillWriteDoor):
    """The stage that makes the item."""

    takes: ClassVar = {"POST": BillStageSerializer}
    gives: ClassVar = {"POST": (200, BillOut)}

    def post(self, request: Request, item: str) -> Response:
        """Put the bill at another stage; batches that stand keep theirs."""
        stage_code = self.read()["stage"]
        return self.written(
            request, operations.put_bill_at_stage, item_code=item.upper(), stage_code=stage_code
        )


class RevisionsDoor(BillWriteDoor):
    """Revisions of a bill."""

    takes: ClassVar = {"POST": NewRevisionSerializer}
    gives: ClassVar = {"POST": BillOut}

    def post(self, request: Request, item: str) -> Response:
        """Make a draft: a copy of the current revision, or of the one named."""
        return self.written(
            request, operations.create_revision, item_code=item.upper(), **self.read()
        )


class RevisionDoor(Door):
    """One revision of a bill."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": BillOut}

    def get(self, request: Request, item: str, number: int) -> Response:
        """The revision with its lines."""
        return Response(bill_json(bill_detail(item, number)))


class RevisionChangeDoor(BillWriteDoor):
    """What a draft says."""

    takes: ClassVar = {"POST": ChangeRevisionSerializer}
    gives: ClassVar = {"POST": (200, BillOut)}

    def post(self, request: Request, item: str, number: int) -> Response:
        """Replace the whole list of lines, the scrap ratio or the note; what is not named stays."""
        return self.written(
            request,
            operations.change_revision,
            item_code=item.upper(),
            number=number,
            **self.read(),
        )


class RevisionReleaseDoor(BillWriteDoor):
    """A draft that becomes current."""

    gives: ClassVar = {"POST": (200, BillOut)}

    def post(self, request: Request, item: str, number: int) -> Response:
        """Release it; the revision before is retired. It never changes again."""
        return self.written(request, operations.release_bill, item_code=item.upper(), number=number)


class RevisionRetireDoor(BillWriteDoor):
    """A revision that is used no longer."""

    gives: ClassVar = {"POST": (200, BillOut)}

    def post(self, request: Request, item: str, number: int) -> Response:
        """Retire it, or drop a draft."""
        return self.written(request, operations.retire_bill, item_code=item.upper(), number=number)


class BillCopyDoor(BillWriteDoor):
    """A bill for another model or colorway."""

    takes: ClassVar = {"POST": CopyBillSerializer}
    gives: ClassVar = {"POST": BillOut}

    def post(self, request: Request, item: str) -> Response:
        """Make a draft for another item; it gets a bill if it has none."""
        body = self.read()
        return self.written(
            request,
            operations.copy_bill,
            item_code=item.upper(),
            to_item_code=body["to_item"],
            copy_of=body.get("copy_of"),
            scale_paint=body["scale_paint"],
            replaced=body["replace"],
        )


class WhereUsedDoor(Door):
    """Where an item is used."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": WhereUsedOut}

    def get(self, request: Request, item: str) -> Response:
        """All that it goes into by the current revisions, directly and through others."""
        return Response(where_used_json(where_used(item)))


class BillCostDoor(Door):
    """What an item's material costs."""

    roles: ClassVar = {"GET": ANYONE}
    asks = AskCostSerializer
    gives: ClassVar = {"GET": CostOut}

    def get(self, request: Request, item: str) -> Response:
        """The cost level by level, with the source of every unit cost; never a guess."""
        asked = self.asked()
        found = cost_sheet(item, number=asked.get("revision"), batch=asked.get("batch"))
        return Response(cost_json(found))


class BillCompareDoor(Door):
    """Two revisions side by side."""

    roles: ClassVar = {"GET": ANYONE}
    asks = AskCompareSerializer
    gives: ClassVar = {"GET": BillComparisonOut}

    def get(self, request: Request, item: str) -> Response:
        """What revision `b` added, dropped and changed."""
        return Response(comparison_json(comparison(item, **self.asked())))
