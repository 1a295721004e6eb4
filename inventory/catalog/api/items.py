"""Doors of items and of the units their amounts are written in."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog import operations, selectors
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor
from inventory.catalog.api.offers import OfferOut
from inventory.catalog.filters import ItemFilter
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import AmountSerializer, CodeField, NumberField, PiecesField

NAME_LENGTH_MAX = 120
HAZARD_LENGTH_MAX = 4000
UNIT_NAMES = [(row.name, row.label) for row in selectors.unit_rows()]


class ItemRowOut(serializers.Serializer[Any]):
    """Anything we buy, make or use up, kept in one unit."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=selectors.ITEM_KINDS)
    dimension = serializers.ChoiceField(choices=selectors.DIMENSIONS)
    display_unit = serializers.ChoiceField(choices=UNIT_NAMES)
    model = serializers.CharField(source="model.code", allow_null=True)
    colorway = serializers.CharField(source="colorway.code", allow_null=True)
    storage_place = serializers.CharField(source="storage_place.code", allow_null=True)
    piece_mass_mg = NumberField(allow_null=True)
    density_mg_per_ul = NumberField(allow_null=True)
    shelf_life_days = serializers.IntegerField(allow_null=True)
    made_life_minutes = serializers.IntegerField(allow_null=True)
    opened_life_minutes = serializers.IntegerField(allow_null=True)
    arrives = serializers.ChoiceField(choices=selectors.ARRIVALS)
    hazard_text = serializers.CharField(
        help_text="From the maker's safety data sheet, word for word."
    )
    hazard_pictograms = serializers.SerializerMethodField(
        help_text="GHS codes from the safety data sheet."
    )
    gtin = serializers.CharField(help_text="14 digits, or empty.")
    is_active = serializers.BooleanField()

    def get_hazard_pictograms(self, item: Any) -> list[str]:
        """The codes as a list."""
        return [code for code in item.hazard_pictograms.split(",") if code]


class ItemPageOut(ItemRowOut):
    """An item with what suppliers offer of it."""

    offers = OfferOut(many=True)


class ChangeItemSerializer(serializers.Serializer[Any]):
    """What may change of an item; its dimension only while nothing is on record about it."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    kind = serializers.ChoiceField(choices=selectors.ITEM_KINDS, required=False)
    dimension = serializers.ChoiceField(choices=selectors.DIMENSIONS, required=False)
    display_unit = serializers.ChoiceField(choices=UNIT_NAMES, required=False)
    model = CodeField(required=False, allow_null=True)
    colorway = CodeField(required=False, allow_null=True)
    storage_place = CodeField(required=False, allow_null=True)
    piece_mass_mg = NumberField(what="piece mass", required=False, allow_null=True)
    density_mg_per_ul = NumberField(what="density", required=False, allow_null=True)
    shelf_life_days = PiecesField(required=False, allow_null=True)
    made_life_minutes = PiecesField(required=False, allow_null=True)
    opened_life_minutes = PiecesField(required=False, allow_null=True)
    arrives = serializers.ChoiceField(choices=selectors.ARRIVALS, required=False)
    hazard_text = serializers.CharField(
        max_length=HAZARD_LENGTH_MAX,
        required=False,
        allow_blank=True,
        trim_whitespace=False,
        help_text="From the maker's safety data sheet, word for word; kept as it is.",
    )
    hazard_pictograms = serializers.ListField(
        child=serializers.CharField(max_length=20),
        max_length=20,
        required=False,
        help_text="GHS01 to GHS09, from the safety data sheet.",
    )
    gtin = serializers.CharField(max_length=40, required=False, allow_blank=True)
    is_active = serializers.BooleanField(required=False)


class NewItemSerializer(ChangeItemSerializer):
    """A new item."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)
    kind = serializers.ChoiceField(choices=selectors.ITEM_KINDS)
    dimension = serializers.ChoiceField(choices=selectors.DIMENSIONS)
    display_unit = serializers.ChoiceField(choices=UNIT_NAMES)


class ConvertSerializer(serializers.Serializer[Any]):
    """An amount of the item, the unit it is in and the unit wanted."""

    amount = NumberField(what="amount")
    to = serializers.ChoiceField(choices=UNIT_NAMES)

    def get_fields(self) -> dict[str, Any]:
        """The parameter `from` is a word of the language, so it cannot be declared above."""
        return {**super().get_fields(), "from": serializers.ChoiceField(choices=UNIT_NAMES)}


class ConversionOut(serializers.Serializer[Any]):
    """One amount of an item in two units."""

    item = serializers.CharField()
    given = AmountSerializer()
    converted = AmountSerializer()
    is_exact = serializers.BooleanField(help_text="False: rounded at the last of 12 decimals.")
    kept = AmountSerializer(help_text="What the ledger would keep: whole base units.")


class UnitOut(serializers.Serializer[Any]):
    """A unit people write amounts in."""

    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # only the stubs mind the name
    dimension = serializers.ChoiceField(choices=selectors.DIMENSIONS)
    base_unit = serializers.CharField()
    base_units = NumberField(help_text="How many base units one is, exactly.")


class UnitsOut(serializers.Serializer[Any]):
    """Every unit."""

    units = UnitOut(many=True)


class ItemsDoor(CatalogListDoor):
    """Items."""

    takes: ClassVar = {"POST": NewItemSerializer}
    gives: ClassVar = {"GET": ItemRowOut, "POST": ItemPageOut}
    create = operations.create_item
    filterset_class = ItemFilter
    search_fields = ("code", "name", "gtin")
    ordering_fields = ("code", "name", "kind")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.items()

    def found(self, code: str) -> Any:
        """One item."""
        return selectors.item_with_offers(code)


class ItemDoor(OneDoor):
    """One item with what suppliers offer of it."""

    gives: ClassVar = {"GET": ItemPageOut}

    def found(self, code: str) -> Any:
        """One item."""
        return selectors.item_with_offers(code)


class ItemChangeDoor(ChangeDoor):
    """A change of an item."""

    takes: ClassVar = {"POST": ChangeItemSerializer}
    gives: ClassVar = {"POST": (200, ItemPageOut)}
    change = operations.change_item

    def found(self, code: str) -> Any:
        """One item."""
        return selectors.item_with_offers(code)


class ConvertDoor(Door):
    """An amount of an item in another unit."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ConvertSerializer
    gives: ClassVar = {"GET": ConversionOut}

    def get(self, request: Request, code: str) -> Response:
        """Convert it; across kinds of units only by the item's piece mass or density."""
        asked = self.asked()
        found = selectors.conversion(
            code=code, amount=asked["amount"], unit=asked["from"], into=asked["to"]
        )
        return Response(ConversionOut(found).data)


class UnitsDoor(Door):
    """The units amounts are written in, with exact factors."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": UnitsOut}

    def get(self, request: Request) -> Response:
        """All of them."""
        return Response(UnitsOut({"units": selectors.unit_rows()}).data)
