"""Doors of what headings of the shop's own stand for."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.exchange.operations.headings import forget_heading, say_heading
from batches.exchange.rules import SHEETS
from batches.exchange.rules.writing import HEADING_LENGTH_MAX
from batches.exchange.selectors.imported import headings
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.fields import AtField

SHEET_NAMES = [sheet.name for sheet in SHEETS]


class HeadingOut(serializers.Serializer[Any]):
    """A heading, and what it stands for."""

    sheet = serializers.CharField()
    heading = serializers.CharField(help_text="Lower case, words joined by underscores.")
    column = serializers.CharField(help_text="Empty: the column is left out.")
    kept_at = AtField()
    kept_by = serializers.CharField(source="kept_by.username")


class HeadingSerializer(serializers.Serializer[Any]):
    """A heading of a sheet."""

    sheet = serializers.ChoiceField(choices=SHEET_NAMES)
    heading = serializers.CharField(max_length=HEADING_LENGTH_MAX)


class NewHeadingSerializer(HeadingSerializer):
    """A heading of a sheet, and the column that it stands for."""

    column = serializers.CharField(
        max_length=60, allow_blank=True, help_text="Empty: the column is left out."
    )


class HeadingsDoor(ListDoor):
    """What headings of the shop's own stand for."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewHeadingSerializer}
    gives: ClassVar = {"GET": HeadingOut, "POST": HeadingOut}
    search_fields = ("sheet", "heading", "column")
    ordering_fields = ("sheet", "heading", "column", "kept_at")
    ordering: ClassVar = ("sheet", "heading")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return headings()

    def post(self, request: Request) -> Response:
        """Let a heading stand for a column from now on."""
        return self.once(
            request,
            say_heading,
            lambda kept: dict(HeadingOut(kept).data),
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )


class HeadingRemoveDoor(Door):
    """The end of what a heading stands for."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": HeadingSerializer}
    gives: ClassVar = {"POST": (200, HeadingOut)}

    def post(self, request: Request) -> Response:
        """Let it stand for nothing again; what was imported stays. Answers what it stood for."""
        return self.once(
            request,
            forget_heading,
            lambda forgotten: dict(HeadingOut(forgotten).data),
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )
