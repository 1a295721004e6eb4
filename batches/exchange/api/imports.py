"""Doors of imports: a look at sheets, their posting, and what was imported."""

from __future__ import annotations

import shlex
from datetime import datetime
from typing import Any, ClassVar, Final

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from batches.exchange.errors import ImportTooLargeError
from batches.exchange.operations.importing import import_reading
from batches.exchange.rules import SHEETS
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.writing import (
    DATES,
    DECIMALS,
    ENCODINGS,
    HEADING_LENGTH_MAX,
    Writing,
    headings_said,
)
from batches.exchange.selectors.checking import CheckedSheets, checked, read_sheets
from batches.exchange.selectors.imported import import_numbered, imports
from shopfloor.days import shop_zone
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.doors.body import validated
from shopfloor.doors.schema import ListSchema
from shopfloor.errors import InvalidInputError
from shopfloor.fields import AtField
from shopfloor.problems import slip_words

ROWS_MAX: Final = 20_000
BYTES_MAX: Final = 20_000_000
FILES_MAX: Final = len(SHEETS)
COMMAND: Final = "python3 manage.py import FOLDER"


class ImportedSheetOut(serializers.Serializer[Any]):
    """One sheet: where its rows came from, and how they were read."""

    sheet = serializers.CharField()
    file = serializers.CharField()
    size_bytes = serializers.IntegerField()
    sha256 = serializers.CharField(help_text="Of the whole file.")
    rows = serializers.IntegerField()
    how = serializers.CharField(help_text="How it was read.")


class ImportOut(serializers.Serializer[Any]):
    """An import, or what it would be."""

    number = serializers.IntegerField(
        source="pk", allow_null=True, help_text="Null: only looked at; nothing was written."
    )
    at = AtField()
    by = serializers.CharField(source="by.username")
    rows = serializers.SerializerMethodField(help_text="Of all its sheets.")
    sheets = ImportedSheetOut(source="sheets.all", many=True)

    def get_rows(self, kept: Any) -> int:
        """All of them."""
        return sum(sheet.rows for sheet in kept.sheets.all())


class WritingSerializer(serializers.Serializer[Any]):
    """Whether it is only a look, and what is said of how the files are written."""

    check = serializers.BooleanField(default=False, help_text="Only look: nothing is written.")
    encoding = serializers.ChoiceField(choices=list(ENCODINGS), required=False)
    decimals = serializers.ChoiceField(choices=DECIMALS, required=False)
    dates = serializers.ChoiceField(choices=DATES, required=False)
    heading = serializers.ListField(
        child=serializers.CharField(max_length=2 * HEADING_LENGTH_MAX),
        required=False,
        max_length=200,
        help_text="`SHEET:HEADING=COLUMN`, one or several.",
    )


class NewImportSerializer(WritingSerializer):
    """Sheets to import, each a file named like its sheet, or workbooks of several."""

    files = serializers.ListField(child=serializers.FileField(), min_length=1, max_length=FILES_MAX)


class ImportSchema(ListSchema):
    """A look is answered as well, with another status."""

    def get_response_serializers(self) -> Any:
        """The import, what it would be, and problems for the rest."""
        answers = super().get_response_serializers()
        return {200: ImportOut, **answers} if self.method == "POST" else answers


class ImportsDoor(ListDoor):
    """Imports, newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewImportSerializer}
    gives: ClassVar = {"GET": ImportOut, "POST": ImportOut}
    parser_classes = [MultiPartParser]
    schema = ImportSchema()
    body_size_max = BYTES_MAX
    too_big_advice = f"On the computer that runs this: {COMMAND}"
    search_fields = ("by__username", "sheets__file", "sheets__sheet")
    ordering_fields = ("at", "by__username")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return imports()

    def post(self, request: Request) -> Response:
        """Import sheets: all of them, or nothing. With `check`, say what would come of it."""
        said = _said(request)
        now = timezone.now()
        files = {file.name: file.read() for file in request.FILES.getlist("files")}
        reading = read_sheets(files, Clock(shop_zone(), now), _writing(said))
        rows = sum(source.rows for source in reading.sources)
        if rows > ROWS_MAX:
            raise ImportTooLargeError(rows, ROWS_MAX, _command(said, by=self.person.username))
        if said["check"]:
            return Response(_looked_at(checked(reading), by=self.person.username, at=now))
        return self.once(
            request,
            import_reading,
            lambda kept: dict(ImportOut(import_numbered(kept.pk)).data),
            reading=reading,
            by=self.person,
            now=now,
        )


class ImportDoor(Door):
    """One import."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ImportOut}

    def get(self, request: Request, number: int) -> Response:
        """The one of this number."""
        return Response(ImportOut(import_numbered(number)).data)


def _said(request: Request) -> dict[str, Any]:
    """What is said beside the files, read as strictly as a JSON body.

    Raises:
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    known = [*WritingSerializer().fields, "files"]
    named = [file.name for file in request.FILES.getlist("files")]
    slips: dict[str, list[str]] = {
        name: [f"Unknown field. Known here: {', '.join(known)}."]
        for name in request.data
        if name not in known
    }
    slips |= {
        name: ["It stands twice. Give it once."]
        for name in request.POST
        if name != "heading" and len(request.POST.getlist(name)) > 1
    }
    if not 1 <= len(named) <= FILES_MAX:
        slips["files"] = [f"Send at least one file, and at most {FILES_MAX}."]
    elif len(set(named)) < len(named):
        slips["files"] = ["Two files have one name."]
    if slips:
        raise InvalidInputError(slip_words(slips), fields=slips)
    said: dict[str, Any] = validated(WritingSerializer, request.POST)
    return said


def _writing(said: dict[str, Any]) -> Writing:
    named = {name: said[name] for name in ("encoding", "decimals", "dates") if name in said}
    return Writing(**named, headings=headings_said(said.get("heading", [])))


def _command(said: dict[str, Any], *, by: str) -> str:
    """The line that does the same where there is no limit."""
    words = [*COMMAND.split(), "--by", by]
    for name in ("encoding", "decimals", "dates"):
        words += [f"--{name}", said[name]] if name in said else []
    for pair in said.get("heading", []):
        words += ["--heading", pair]
    return shlex.join(words)


def _looked_at(sheets: CheckedSheets, *, by: str, at: datetime) -> dict[str, Any]:
    return {
        "number": None,
        "at": AtField().to_representation(at),
        "by": by,
        "rows": sheets.row_count,
        "sheets": [
            {
                "sheet": source.sheet,
                "file": source.label,
                "size_bytes": source.size,
                "sha256": source.digest,
                "rows": source.rows,
                "how": source.how,
            }
            for source in sheets.sources
        ],
    }
