"""Doors of suppliers and of what they offer."""

from __future__ import annotations

from operator import attrgetter
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog import operations, selectors
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor, answer
from inventory.catalog.api.fields import ShownAmountField
from inventory.catalog.filters import OfferFilter, SupplierFilter
from inventory.catalog.steps import PriceBreak
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.fields import AmountSerializer, CodeField, MoneyField, PiecesField

NAME_LENGTH_MAX = 120
CONTACT_LENGTH_MAX = 200
NUMBER_LENGTH_MAX = 60
BREAKS_MAX = 20
LEAD_TIME_DAYS_MAX = 3650


class PriceBreakOut(serializers.Serializer[Any]):
    """Price of one pack from so many packs on."""

    packs_from = serializers.IntegerField()
    pack_price = MoneyField(source="pack_price_micro")


class OfferOut(serializers.Serializer[Any]):
    """What one supplier offers of one item, in packs of one size."""

    supplier = serializers.CharField(source="supplier.code")
    item = serializers.CharField(source="item.code")
    pack = ShownAmountField(attrgetter("pack_base"))
    supplier_item_number = serializers.CharField()
    packs_min = serializers.IntegerField()
    lead_time_days = serializers.IntegerField(
        allow_null=True, help_text="As the supplier quotes it."
    )
    is_preferred = serializers.BooleanField()
    is_active = serializers.BooleanField()
    prices = PriceBreakOut(many=True)


class PriceBreakSerializer(serializers.Serializer[Any]):
    """Price of one pack from so many packs on."""

    packs_from = PiecesField(min_value=1)
    pack_price = MoneyField()

    def to_internal_value(self, data: Any) -> PriceBreak:
        """Read both."""
        parts = super().to_internal_value(data)
        return PriceBreak(parts["packs_from"], parts["pack_price"])


class ChangeOfferSerializer(serializers.Serializer[Any]):
    """Which offer, by supplier, item and pack, and what changes of it."""

    supplier = CodeField()
    item = CodeField()
    pack = AmountSerializer()
    supplier_item_number = serializers.CharField(
        max_length=NUMBER_LENGTH_MAX, required=False, allow_blank=True
    )
    packs_min = PiecesField(required=False, min_value=1)
    lead_time_days = PiecesField(required=False, allow_null=True, max_value=LEAD_TIME_DAYS_MAX)
    is_preferred = serializers.BooleanField(
        required=False, help_text="Taken from the item's other offers."
    )
    is_active = serializers.BooleanField(required=False)
    prices = PriceBreakSerializer(  # type: ignore[call-arg]  # `many` makes a list, which takes them
        many=True,
        max_length=BREAKS_MAX,
        required=False,
        help_text="All price breaks, ascending; the first begins at `packs_min` or below.",
    )


class NewOfferSerializer(ChangeOfferSerializer):
    """A new offer."""


class SupplierOut(serializers.Serializer[Any]):
    """Who sells us something, or paints for us."""

    code = serializers.CharField()
    name = serializers.CharField()
    contact = serializers.CharField()
    is_active = serializers.BooleanField()


class SupplierPageOut(SupplierOut):
    """A supplier with all it offers."""

    offers = OfferOut(many=True)


class ChangeSupplierSerializer(serializers.Serializer[Any]):
    """What may change of a supplier."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    contact = serializers.CharField(max_length=CONTACT_LENGTH_MAX, required=False, allow_blank=True)
    is_active = serializers.BooleanField(required=False)


class NewSupplierSerializer(ChangeSupplierSerializer):
    """A new supplier."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)


class SuppliersDoor(CatalogListDoor):
    """Suppliers."""

    takes: ClassVar = {"POST": NewSupplierSerializer}
    gives: ClassVar = {"GET": SupplierOut, "POST": SupplierPageOut}
    create = operations.create_supplier
    filterset_class = SupplierFilter
    search_fields = ("code", "name", "contact")
    ordering_fields = ("code", "name")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.suppliers()

    def found(self, code: str) -> Any:
        """One supplier."""
        return selectors.supplier_with_offers(code)


class SupplierDoor(OneDoor):
    """One supplier with all it offers."""

    gives: ClassVar = {"GET": SupplierPageOut}

    def found(self, code: str) -> Any:
        """One supplier."""
        return selectors.supplier_with_offers(code)


class SupplierChangeDoor(ChangeDoor):
    """A change of a supplier."""

    takes: ClassVar = {"POST": ChangeSupplierSerializer}
    gives: ClassVar = {"POST": (200, SupplierPageOut)}
    change = operations.change_supplier

    def found(self, code: str) -> Any:
        """One supplier."""
        return selectors.supplier_with_offers(code)


class OffersDoor(ListDoor):
    """What suppliers offer, with price breaks."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewOfferSerializer}
    gives: ClassVar = {"GET": OfferOut, "POST": OfferOut}
    filterset_class = OfferFilter
    search_fields = ("supplier_item_number", "item__code", "item__name", "supplier__name")
    ordering_fields = ("item__code", "supplier__code", "lead_time_days")
    ordering: ClassVar = ("item__code", "supplier__code")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.offers()

    def post(self, request: Request) -> Response:
        """Enter one. The pack is in any unit that can be turned into the item's."""
        return self.once(
            request,
            operations.create_offer,
            lambda row: answer(self, "POST", selectors.offer(row.pk)),
            **_offer_arguments(self.read()),
            by=self.person,
            at=timezone.now(),
        )


class OfferChangeDoor(Door):
    """A change of an offer: an offer has no code, so supplier, item and pack say which."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": ChangeOfferSerializer}
    gives: ClassVar = {"POST": (200, OfferOut)}

    def post(self, request: Request) -> Response:
        """Change the fields that are named; `prices` replaces all price breaks."""
        return self.once(
            request,
            operations.change_offer,
            lambda row: answer(self, "POST", selectors.offer(row.pk)),
            **_offer_arguments(self.read()),
            by=self.person,
            at=timezone.now(),
        )


def _offer_arguments(body: dict[str, Any]) -> dict[str, Any]:
    return {
        "supplier_code": body.pop("supplier"),
        "item_code": body.pop("item"),
        "pack": body.pop("pack"),
        "fields": body,
    }
