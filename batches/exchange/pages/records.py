"""Pages of what was imported, of empty sheets to fill in, and of headings that are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import HttpRequest
from django.urls import path

from batches.exchange.api import headings, imports, templates
from shopfloor.screens import Act, ActPage, Column, ListPage, Table, ThingPage

_IMPORT = Act("Import sheets", "/imports/new/", door="imports/", is_main=True)
_EMPTY = Act("Empty sheets to fill in", "/imports/templates/", door="")
_KEPT = Act("Headings kept", "/imports/headings/", door="")


class ImportsPage(ListPage):
    """Imports."""

    door = imports.ImportsDoor
    title = "Imports"
    says = "What was imported, by whom, of which files."
    columns = (
        Column("number", "Import", to="/imports/{number}/"),
        Column("at", "When", order="at"),
        Column("by"),
        Column("rows"),
        Column("sheets.sheet", "Sheets"),
    )
    acts = (_IMPORT, _EMPTY, _KEPT)
    none = "Nothing was imported yet. Take an empty sheet, fill it in, and import it."


class ImportedPage(ThingPage):
    """One import."""

    door = imports.ImportDoor
    title = "Import"
    hidden = ("number",)
    labels: ClassVar = {"at": "When"}
    tables = (
        Table(
            "sheets",
            "Its sheets",
            (
                Column("sheet"),
                Column("file"),
                Column("rows"),
                Column("how", "How it was read"),
                Column("size_bytes", "Bytes"),
                Column("sha256", "SHA-256 of the file"),
            ),
        ),
    )

    def heading(self, thing: Mapping[str, Any]) -> str:
        """Its number."""
        return str(thing["number"])


class TemplatesPage(ThingPage):
    """Empty sheets to fill in."""

    door = templates.TemplatesDoor
    title = "Empty sheets"
    facts = ("nothing",)
    acts = (_IMPORT,)
    tables = (
        Table(
            "sheets",
            "In the order in which they are posted",
            (
                Column("sheet"),
                Column("about", "A row is"),
                Column("csv", "CSV", to="/api/v1/imports/templates/{sheet}.csv"),
                Column("xlsx", "XLSX", to="/api/v1/imports/templates/{sheet}.xlsx"),
            ),
        ),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """Each with its two files."""
        sheets = super().thing(request)["sheets"]
        return {
            "sheets": [
                {**sheet, "about": sheet["about"].replace("`", ""), "csv": "CSV", "xlsx": "XLSX"}
                for sheet in sheets
            ]
        }

    def heading(self, thing: Mapping[str, Any]) -> str:
        """What they are for."""
        return "to fill in"


class HeadingsPage(ListPage):
    """Headings kept."""

    door = headings.HeadingsDoor
    title = "Headings kept"
    says = "What headings of your own sheets stand for."
    columns = (
        Column("heading", order="heading"),
        Column("sheet", order="sheet"),
        Column("column", "Stands for", order="column"),
        Column("kept_at", "Since", order="kept_at"),
        Column("kept_by", "By"),
    )
    to = "/imports/headings/remove/?sheet={sheet}&heading={heading}"
    acts = (Act("Say what a heading stands for", "/imports/headings/new/"), _IMPORT)
    none = "None yet. What is said of a heading at an import is kept for the next."


class HeadingForm(ActPage):
    """What a heading stands for."""

    door = headings.HeadingsDoor
    title = "Say what a heading stands for"
    done = "It is kept."
    lands = "/imports/headings/"
    labels: ClassVar = {"column": "Our column"}


class HeadingRemoveForm(ActPage):
    """It stands for nothing again."""

    door = headings.HeadingRemoveDoor
    title = "Forget a heading"
    says = "It stands for nothing again; what was imported stays."


urlpatterns = [
    path("imports/", ImportsPage.as_view()),
    path("imports/templates/", TemplatesPage.as_view()),
    path("imports/headings/", HeadingsPage.as_view()),
    path("imports/headings/new/", HeadingForm.as_view()),
    path("imports/headings/remove/", HeadingRemoveForm.as_view()),
    path("imports/<int:number>/", ImportedPage.as_view()),
]
