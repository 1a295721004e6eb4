"""Doors of what customers complain of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.packing import operations, selectors
from batches.packing.filters import ComplaintFilter
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.doors import ANYONE, PACKERS, Door, ListDoor
from shopfloor.fields import AtField, CodeField, DayField, PiecesField
from shopfloor.stamp import Stamp

NOTE_LENGTH_MAX = 1000


class NewComplaintSerializer(serializers.Serializer[Any]):
    """A defect of pieces that left: of a box, a lot, or an item or model bought in some days.

    A box of several items may be given with the item.
    """

    defect = CodeField(help_text="Code of what is wrong: a scrap reason.")
    pieces = PiecesField(min_value=1, help_text="How many have it.")
    told_on = DayField(required=False, allow_null=True, default=None, help_text="Today, if empty.")
    customer = CodeField(
        required=False,
        allow_blank=True,
        default="",
        help_text="Ours; empty where somebody else told us.",
    )
    box = CodeField(required=False, allow_blank=True, default="")
    lot = CodeField(required=False, allow_blank=True, default="")
    item = CodeField(
        max_length=OWN_CODE_LENGTH_MAX,
        required=False,
        allow_blank=True,
        default="",
        help_text="With a box: which of what is in it; the complaint is then of that lot.",
    )
    model = CodeField(max_length=OWN_CODE_LENGTH_MAX, required=False, allow_blank=True, default="")
    bought_first_on = DayField(
        required=False,
        allow_null=True,
        default=None,
        help_text="With an item or model: the first day on which it may have left us.",
    )
    bought_last_on = DayField(required=False, allow_null=True, default=None)
    note = serializers.CharField(
        max_length=NOTE_LENGTH_MAX, required=False, allow_blank=True, default=""
    )
    replaces = CodeField(
        required=False, allow_blank=True, default="", help_text="One written down wrongly."
    )


class ComplaintOut(serializers.Serializer[Any]):
    """A complaint; one that was replaced no longer counts."""

    code = serializers.CharField()
    defect = serializers.CharField()
    defect_name = serializers.CharField()
    pieces = serializers.IntegerField()
    told_on = serializers.DateField()
    customer = serializers.CharField(allow_null=True)
    customer_name = serializers.CharField(allow_null=True)
    box = serializers.CharField(allow_null=True)
    lot = serializers.CharField(allow_null=True)
    item = serializers.CharField(allow_null=True)
    model = serializers.CharField(allow_null=True)
    bought_first_on = serializers.DateField(allow_null=True)
    bought_last_on = serializers.DateField(allow_null=True)
    note = serializers.CharField()
    by = serializers.CharField()
    recorded_at = AtField()
    replaces = serializers.CharField(allow_null=True)
    replaced_by = serializers.CharField(allow_null=True)
    returns = serializers.ListField(
        child=serializers.CharField(), help_text="Postings by which pieces came back for it."
    )


def complaints_json(complaints: Sequence[Any]) -> list[dict[str, Any]]:
    """Complaints as the API answers them."""
    return [dict(ComplaintOut(selectors.complaint_row(row)).data) for row in complaints]


def complaint_json(complaint: Any) -> dict[str, Any]:
    """A complaint that an operation answers."""
    return complaints_json([selectors.complaint_named(complaint.code)])[0]


class ComplaintsDoor(ListDoor):
    """What customers complained of, newest first; and a new complaint."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewComplaintSerializer}
    gives: ClassVar = {"GET": ComplaintOut, "POST": ComplaintOut}
    filterset_class = ComplaintFilter
    search_fields = ("customer__code", "customer__name", "note")
    ordering_fields = ("told_on", "defect__code", "pieces")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All complaints."""
        return selectors.complaints()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows."""
        return complaints_json(page)

    def post(self, request: Request) -> Response:
        """Write it down."""
        body = self.read()
        now = timezone.now()
        codes = ("defect", "customer", "box", "lot", "item", "model")
        rest = ("pieces", "told_on", "bought_first_on", "bought_last_on", "note", "replaces")
        draft = operations.ComplaintDraft(
            **{f"{name}_code": body[name] for name in codes}, **{name: body[name] for name in rest}
        )
        return self.once(
            request,
            operations.complain,
            complaint_json,
            draft=draft,
            stamp=Stamp(by=self.person, at=now, now=now),
        )


class ComplaintDoor(Door):
    """One complaint."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ComplaintOut}

    def get(self, request: Request, code: str) -> Response:
        """The complaint."""
        return Response(complaints_json([selectors.complaint_named(code)])[0])
