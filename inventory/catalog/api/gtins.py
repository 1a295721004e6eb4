"""The door that gives items GTINs of the shop's own prefix."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog import operations
from inventory.catalog.steps import GtinAsk
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.codes.gs1.numbers import printed_gtin
from shopfloor.doors import LEADS, Door
from shopfloor.fields import CodeField

ITEMS_MAX = 100


class GtinAskSerializer(serializers.Serializer[Any]):
    """An item that wants a GTIN."""

    item = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    carton_of = CodeField(
        max_length=OWN_CODE_LENGTH_MAX,
        required=False,
        help_text="The item it is a carton of: its GTIN is made of that one's.",
    )

    def to_internal_value(self, data: Any) -> GtinAsk:
        """Read it as the operation takes it."""
        ask = super().to_internal_value(data)
        return GtinAsk(ask["item"], ask.get("carton_of", ""))


class GtinsSerializer(serializers.Serializer[Any]):
    """The items that want one, in order: an article before its carton."""

    items = serializers.ListField(
        child=GtinAskSerializer(), allow_empty=False, max_length=ITEMS_MAX
    )


class GtinOut(serializers.Serializer[Any]):
    """The GTIN of an item."""

    item = serializers.CharField()
    gtin = serializers.CharField(help_text="14 digits, as it is kept.")
    printed = serializers.CharField(help_text="12, 13 or 14 digits, as the article carries it.")


class GtinsOut(serializers.Serializer[Any]):
    """GTINs of items, in the order asked."""

    gtins = GtinOut(many=True)


def _gtins_json(items: Sequence[Any]) -> dict[str, Any]:
    return {
        "gtins": [
            {"item": item.code, "gtin": item.gtin, "printed": printed_gtin(item.gtin)}
            for item in items
        ]
    }


class GtinsDoor(Door):
    """GTINs of items: their numbers with customers."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": GtinsSerializer}
    gives: ClassVar = {"POST": (200, GtinsOut)}

    def post(self, request: Request) -> Response:
        """Allot one to each item that has none; an item keeps the one it has."""
        return self.once(
            request,
            operations.allot_gtins,
            _gtins_json,
            asks=self.read()["items"],
            by=self.person,
            at=timezone.now(),
        )
