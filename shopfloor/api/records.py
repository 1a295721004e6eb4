"""Doors of what was done: edits of plain tables, and ways in."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers

from shopfloor import selectors
from shopfloor.doors import LEADS, OWNERS, ListDoor
from shopfloor.fields import AtField
from shopfloor.filters import AccessFilter, ChangeFilter


class ChangeSerializer(serializers.Serializer[Any]):
    """One edit of a plain table: the fields that differ."""

    at = AtField()
    by = serializers.CharField()
    table = serializers.CharField()
    noun = serializers.CharField(help_text="What a row of the table is, in words.")
    row_code = serializers.CharField(help_text="The row's code; its number where it has none.")
    row_name = serializers.CharField(
        help_text="The same; of a person the present name, of an offer or a policy its item."
    )
    before = serializers.DictField(allow_null=True, help_text="Null: a new row.")
    after = serializers.DictField(help_text="What points to another row says its code.")
    units = serializers.DictField(
        child=serializers.CharField(),
        help_text="Of items whose amounts are among the fields: the unit people see, by code. "
        "A field that ends in `_base` is in mg, uL, mm or pieces all the same.",
    )


class AccessSerializer(serializers.Serializer[Any]):
    """What happened to somebody's way in."""

    at = AtField()
    kind = serializers.CharField()
    username = serializers.CharField(
        allow_null=True, help_text="Null where nobody has the name that was given."
    )
    by = serializers.CharField(allow_null=True, help_text="Who did it, where that is known.")
    token = serializers.IntegerField(allow_null=True)
    address = serializers.CharField(allow_null=True, help_text="The network address.")


class ChangesDoor(ListDoor):
    """Edits of plain tables; what was posted is in the ledger."""

    roles: ClassVar = {"GET": LEADS}
    gives: ClassVar = {"GET": ChangeSerializer}
    filterset_class = ChangeFilter
    ordering_fields = ("at",)
    ordering = ("-at",)

    def get_queryset(self) -> QuerySet[Any]:
        """Every edit."""
        return selectors.changes()

    def rows(self, page: Any) -> list[dict[str, Any]]:
        """With the names of the people and things they point to."""
        return list(ChangeSerializer(selectors.change_rows(page), many=True).data)


class AccessEventsDoor(ListDoor):
    """Who signed in or out or failed to, and whose password or token was changed."""

    roles: ClassVar = {"GET": OWNERS}
    gives: ClassVar = {"GET": AccessSerializer}
    filterset_class = AccessFilter
    ordering_fields = ("at",)
    ordering = ("-at",)

    def get_queryset(self) -> QuerySet[Any]:
        """Everything."""
        return selectors.access_events()

    def rows(self, page: Any) -> list[dict[str, Any]]:
        """With people's names, already loaded."""
        rows = [selectors.access_row(event) for event in page]
        return list(AccessSerializer(rows, many=True).data)
