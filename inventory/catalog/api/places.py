"""Doors of models, colorways, places and equipment."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog import operations, selectors
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor, answer
from inventory.catalog.filters import (
    ColorwayFilter,
    EquipmentFilter,
    ModelFilter,
    PlaceFilter,
)
from inventory.catalog.steps import PARTS_MAX
from shopfloor.doors import ANYONE, LEADS, ListDoor
from shopfloor.fields import CodeField, PiecesField

NAME_LENGTH_MAX = 120
# A box is made where it is packed.
PLACES_TO_MAKE = [(kind, label) for kind, label in selectors.PLACE_KINDS if kind != "box"]
PART_KINDS = [(kind, kind) for kind in ("cavity", "station")]


class ModelOut(serializers.Serializer[Any]):
    """A lure as designed, whatever its colors."""

    code = serializers.CharField()
    name = serializers.CharField()
    length_mm = serializers.IntegerField(allow_null=True)
    painted_area_mm2 = serializers.IntegerField(
        allow_null=True, help_text="Square millimeters that paint covers on one lure."
    )
    is_active = serializers.BooleanField()


class ChangeModelSerializer(serializers.Serializer[Any]):
    """What may change of a model."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    length_mm = PiecesField(required=False, allow_null=True, min_value=1)
    painted_area_mm2 = PiecesField(required=False, allow_null=True, min_value=1)
    is_active = serializers.BooleanField(required=False)


class NewModelSerializer(ChangeModelSerializer):
    """A new model."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)


class ColorwayOut(serializers.Serializer[Any]):
    """How a lure is painted, whatever its shape."""

    code = serializers.CharField()
    name = serializers.CharField()
    is_active = serializers.BooleanField()


class ChangeColorwaySerializer(serializers.Serializer[Any]):
    """What may change of a colorway."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    is_active = serializers.BooleanField(required=False)


class NewColorwaySerializer(ChangeColorwaySerializer):
    """A new colorway."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)


class PlaceOut(serializers.Serializer[Any]):
    """A shelf, a bench, a box, or an outside party's premises."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=selectors.PLACE_KINDS)
    is_active = serializers.BooleanField()


class ChangePlaceSerializer(serializers.Serializer[Any]):
    """What may change of a place."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    kind = serializers.ChoiceField(choices=PLACES_TO_MAKE, required=False)
    is_active = serializers.BooleanField(required=False)


class NewPlaceSerializer(ChangePlaceSerializer):
    """A new place."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)
    kind = serializers.ChoiceField(choices=PLACES_TO_MAKE)


class PartOut(serializers.Serializer[Any]):
    """A cavity of a mold, a station of a wheel."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=selectors.EQUIPMENT_KINDS)
    number = serializers.IntegerField(allow_null=True)
    is_active = serializers.BooleanField()


class EquipmentOut(PartOut):
    """A press, a mold and its cavities, a wheel and its stations, a booth."""

    parent = serializers.CharField(  # type: ignore[assignment]  # only the stubs mind the name
        source="parent.code", allow_null=True
    )
    parts = PartOut(many=True)


class PartsSerializer(serializers.Serializer[Any]):
    """Cavities of a new mold, stations of a new wheel, numbered from 1."""

    kind = serializers.ChoiceField(choices=PART_KINDS)
    count = PiecesField(min_value=1, max_value=PARTS_MAX)


class NewEquipmentSerializer(serializers.Serializer[Any]):
    """New equipment with its parts, or one part of equipment that stands already."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)
    kind = serializers.ChoiceField(choices=selectors.EQUIPMENT_KINDS)
    parts = PartsSerializer(required=False)
    parent = CodeField(required=False)  # type: ignore[assignment]  # only the stubs mind the name
    number = PiecesField(required=False, min_value=1)


class ChangeEquipmentSerializer(serializers.Serializer[Any]):
    """What may change of equipment."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    is_active = serializers.BooleanField(required=False)


class ModelsDoor(CatalogListDoor):
    """Models of lures."""

    takes: ClassVar = {"POST": NewModelSerializer}
    gives: ClassVar = {"GET": ModelOut, "POST": ModelOut}
    create = operations.create_model
    filterset_class = ModelFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name", "length_mm")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.models()

    def found(self, code: str) -> Any:
        """One model."""
        return selectors.model(code)


class ModelDoor(OneDoor):
    """One model."""

    gives: ClassVar = {"GET": ModelOut}

    def found(self, code: str) -> Any:
        """One model."""
        return selectors.model(code)


class ModelChangeDoor(ChangeDoor):
    """A change of a model."""

    takes: ClassVar = {"POST": ChangeModelSerializer}
    gives: ClassVar = {"POST": (200, ModelOut)}
    change = operations.change_model

    def found(self, code: str) -> Any:
        """One model."""
        return selectors.model(code)


class ColorwaysDoor(CatalogListDoor):
    """Colorways."""

    takes: ClassVar = {"POST": NewColorwaySerializer}
    gives: ClassVar = {"GET": ColorwayOut, "POST": ColorwayOut}
    create = operations.create_colorway
    filterset_class = ColorwayFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.colorways()

    def found(self, code: str) -> Any:
        """One colorway."""
        return selectors.colorway(code)


class ColorwayDoor(OneDoor):
    """One colorway."""

    gives: ClassVar = {"GET": ColorwayOut}

    def found(self, code: str) -> Any:
        """One colorway."""
        return selectors.colorway(code)


class ColorwayChangeDoor(ChangeDoor):
    """A change of a colorway."""

    takes: ClassVar = {"POST": ChangeColorwaySerializer}
    gives: ClassVar = {"POST": (200, ColorwayOut)}
    change = operations.change_colorway

    def found(self, code: str) -> Any:
        """One colorway."""
        return selectors.colorway(code)


class PlacesDoor(CatalogListDoor):
    """Places; boxes are among them, and are made where they are packed."""

    takes: ClassVar = {"POST": NewPlaceSerializer}
    gives: ClassVar = {"GET": PlaceOut, "POST": PlaceOut}
    create = operations.create_place
    filterset_class = PlaceFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name", "kind")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.places()

    def found(self, code: str) -> Any:
        """One place."""
        return selectors.place(code)


class PlaceDoor(OneDoor):
    """One place."""

    gives: ClassVar = {"GET": PlaceOut}

    def found(self, code: str) -> Any:
        """One place."""
        return selectors.place(code)


class PlaceChangeDoor(ChangeDoor):
    """A change of a place."""

    takes: ClassVar = {"POST": ChangePlaceSerializer}
    gives: ClassVar = {"POST": (200, PlaceOut)}
    change = operations.change_place

    def found(self, code: str) -> Any:
        """One place."""
        return selectors.place(code)


class EquipmentListDoor(ListDoor):
    """Equipment, each with its parts."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewEquipmentSerializer}
    gives: ClassVar = {"GET": EquipmentOut, "POST": EquipmentOut}
    filterset_class = EquipmentFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name", "kind", "number")
    ordering: ClassVar = ("code",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of it."""
        return selectors.equipment()

    def post(self, request: Request) -> Response:
        """Enter it: a mold with all its cavities, a wheel with all its stations, in one go."""
        body = self.read()
        parts = body.get("parts", {})
        return self.once(
            request,
            operations.create_equipment,
            lambda row: answer(self, "POST", selectors.one_equipment(row.code)),
            code=body["code"],
            name=body["name"],
            kind=body["kind"],
            parent_code=body.get("parent", ""),
            number=body.get("number"),
            part_kind=parts.get("kind", ""),
            part_count=parts.get("count", 0),
            by=self.person,
            at=timezone.now(),
        )


class EquipmentDoor(OneDoor):
    """One piece of equipment with its parts."""

    gives: ClassVar = {"GET": EquipmentOut}

    def found(self, code: str) -> Any:
        """One piece of equipment."""
        return selectors.one_equipment(code)


class EquipmentChangeDoor(ChangeDoor):
    """A change of equipment: its name, or whether it is in use."""

    takes: ClassVar = {"POST": ChangeEquipmentSerializer}
    gives: ClassVar = {"POST": (200, EquipmentOut)}
    change = operations.change_equipment

    def found(self, code: str) -> Any:
        """One piece of equipment."""
        return selectors.one_equipment(code)
