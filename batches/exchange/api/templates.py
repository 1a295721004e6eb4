"""Doors of empty sheets to fill in."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.exchange.rules import SHEETS
from batches.exchange.rules.sheets import Sheet
from batches.exchange.rules.templates import csv_template, xlsx_template
from shopfloor.doors import ANYONE, Door
from shopfloor.doors.schema import DoorSchema
from shopfloor.errors import NotFoundError

SUCCESS = 200
CSV_TYPE = "text/csv"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_BY_NAME = {sheet.name: sheet for sheet in SHEETS}


class ColumnOut(serializers.Serializer[Any]):
    """One column of a sheet."""

    name = serializers.CharField()
    must_be_filled = serializers.BooleanField(source="required")
    holds = serializers.CharField(source="kind.words", help_text="How its cells are written.")
    meaning = serializers.CharField(source="about")
    choices = serializers.ListField(
        source="kind.choices", child=serializers.CharField(), help_text="Empty: anything that fits."
    )


class SheetOut(serializers.Serializer[Any]):
    """One sheet; `{sheet}.csv` and `{sheet}.xlsx` beside this list are empty ones to fill in."""

    sheet = serializers.CharField(source="name")
    about = serializers.CharField()
    columns = ColumnOut(many=True)


class SheetsOut(serializers.Serializer[Any]):
    """Every sheet that can be imported, in the order in which they are posted."""

    sheets = SheetOut(many=True)


class TemplatesDoor(Door):
    """What can be imported."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": SheetsOut}

    def get(self, request: Request) -> Response:
        """Every sheet with its columns."""
        return Response(SheetsOut({"sheets": SHEETS}).data)


class TemplateSchema(DoorSchema):
    """The success is a file."""

    def get_response_serializers(self) -> Any:
        """A sheet, and problems for the rest."""
        answers = super().get_response_serializers()
        answers.pop(SUCCESS)
        file = OpenApiResponse(OpenApiTypes.BINARY, description="The sheet.")
        door: Any = self.view
        return {(SUCCESS, door.media_type): file, **answers}


class TemplateDoor(Door):
    """Answers with an empty sheet. A subclass says of which kind."""

    roles: ClassVar = {"GET": ANYONE}
    schema = TemplateSchema()
    media_type: ClassVar[str]
    suffix: ClassVar[str]

    def filled(self, sheet: Sheet) -> bytes:
        """The file."""
        raise NotImplementedError

    def get(self, request: Request, sheet: str) -> HttpResponse:
        """The empty sheet of this name."""
        if sheet not in _BY_NAME:
            raise NotFoundError("There is no such sheet.", sheet=sheet, sheets=list(_BY_NAME))
        return HttpResponse(
            self.filled(_BY_NAME[sheet]),
            content_type=self.media_type,
            headers={"Content-Disposition": f'attachment; filename="{sheet}.{self.suffix}"'},
        )


class CsvTemplateDoor(TemplateDoor):
    """An empty sheet as CSV; its second row explains it, and is passed over when it comes back."""

    media_type = CSV_TYPE
    suffix = "csv"

    def filled(self, sheet: Sheet) -> bytes:
        """The file."""
        return csv_template(sheet)


class XlsxTemplateDoor(TemplateDoor):
    """An empty sheet as a workbook, with lists to choose from and a second sheet to explain it."""

    media_type = XLSX_TYPE
    suffix = "xlsx"

    def filled(self, sheet: Sheet) -> bytes:
        """The file."""
        return xlsx_template(sheet)
