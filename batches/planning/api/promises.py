"""Door of what customers were promised."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers

from batches.planning.selectors.promises import promise_rows
from shopfloor.doors import ANYONE, ListDoor
from shopfloor.fields import CodeField


class PromiseOut(serializers.Serializer[Any]):
    """A line of an order that waits, and what serves it; pieces."""

    order = serializers.CharField(source="root.code")
    line = serializers.IntegerField(source="root.line")
    customer = serializers.CharField(source="root.customer")
    item = serializers.CharField(source="item.code")
    item_name = serializers.CharField(source="item.name")
    promised_on = serializers.DateField(source="root.due_on", allow_null=True)
    waiting = serializers.IntegerField(source="waiting_base")
    reserved = serializers.IntegerField(
        source="reserved_base", help_text="On hand; the order promised first is served first."
    )
    coming = serializers.IntegerField(
        source="coming_base", help_text="Of open batches and supplier orders."
    )
    coming_on = serializers.DateField(
        allow_null=True, help_text="The day the last of it is expected."
    )
    planned = serializers.IntegerField(
        source="planned_base", help_text="Must be made or ordered yet."
    )
    begin_on = serializers.DateField(
        allow_null=True, help_text="The Monday by which the first of that is begun or ordered."
    )
    is_late = serializers.BooleanField(
        help_text="Its day is past, or what comes or is to be begun cannot be in time."
    )


class PromiseAskSerializer(serializers.Serializer[Any]):
    """Which lines."""

    item = CodeField(allow_blank=True, default="")
    customer = CodeField(allow_blank=True, default="")
    is_late = serializers.BooleanField(allow_null=True, default=None)


class PromisesDoor(ListDoor):
    """What customers wait for, the earliest promised first, and what serves each line."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": PromiseOut}
    asks = PromiseAskSerializer
    filter_backends = []  # they need a queryset, and this list is computed

    def listed(self) -> Any:
        """The list is computed whole, then filtered."""
        asked = self.asked()
        return [
            row
            for row in promise_rows(now=timezone.now())
            if asked["item"] in {"", row.item.code}
            and asked["customer"] in {"", row.root.customer}
            and asked["is_late"] in {None, row.is_late}
        ]


urlpatterns = [path("planning/promises/", PromisesDoor.as_view())]
