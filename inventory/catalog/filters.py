"""Filters of the catalog's lists. Codes are found however they are typed."""

from __future__ import annotations

import django_filters
from django.db.models import Q, QuerySet

from inventory.catalog.models import (
    Colorway,
    DimensionKind,
    Equipment,
    EquipmentKind,
    Item,
    ItemKind,
    LureModel,
    Offer,
    Place,
    PlaceKind,
    Supplier,
)
from shopfloor.code_filter import CodeFilter


class ModelFilter(django_filters.FilterSet):
    """By whether in use."""

    is_active = django_filters.BooleanFilter()

    class Meta:
        model = LureModel
        fields = ["is_active"]


class ColorwayFilter(django_filters.FilterSet):
    """By whether in use."""

    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Colorway
        fields = ["is_active"]


class PlaceFilter(django_filters.FilterSet):
    """By kind, and whether in use."""

    kind = django_filters.ChoiceFilter(choices=PlaceKind.choices)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Place
        fields = ["kind", "is_active"]


class EquipmentFilter(django_filters.FilterSet):
    """By kind, what it is a part of, and whether in use."""

    kind = django_filters.ChoiceFilter(choices=EquipmentKind.choices)
    parent = CodeFilter("parent__code")
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Equipment
        fields = ["kind", "parent", "is_active"]


class SupplierFilter(django_filters.FilterSet):
    """By the item they offer, and whether in use."""

    item = CodeFilter("offers__item__code", distinct=True)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Supplier
        fields = ["item", "is_active"]


class ItemFilter(django_filters.FilterSet):
    """By kind, dimension, model, colorway, storage place, supplier, hazard, and whether in use."""

    kind = django_filters.ChoiceFilter(choices=ItemKind.choices)
    dimension = django_filters.ChoiceFilter(choices=DimensionKind.choices)
    model = CodeFilter("model__code")
    colorway = CodeFilter("colorway__code")
    storage_place = CodeFilter("storage_place__code")
    supplier = CodeFilter("offers__supplier__code", distinct=True)
    has_hazard = django_filters.BooleanFilter(method="by_hazard", label="Has hazard data.")
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Item
        fields = [
            "kind",
            "dimension",
            "model",
            "colorway",
            "storage_place",
            "supplier",
            "has_hazard",
            "is_active",
        ]

    def by_hazard(self, rows: QuerySet[Item], name: str, value: bool) -> QuerySet[Item]:  # noqa: FBT001 - as called
        """Whether the item carries anything from a safety data sheet."""
        carries = ~Q(hazard_text="") | ~Q(hazard_pictograms="")
        return rows.filter(carries if value else ~carries)


class OfferFilter(django_filters.FilterSet):
    """By item, supplier, whether preferred, and whether in use."""

    item = CodeFilter("item__code")
    supplier = CodeFilter("supplier__code")
    is_preferred = django_filters.BooleanFilter()
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Offer
        fields = ["item", "supplier", "is_preferred", "is_active"]
