"""The shop's set-up and records: the ways to all of them, and the settings as they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar, Final

from django.http import HttpRequest, HttpResponse
from django.urls import path

from shopfloor.api import shop
from shopfloor.doors import ANYONE, PageDoor
from shopfloor.screens import Column, Table, ThingPage, may_see
from shopfloor.screens.ways import Way

# Pages of the floors above, by their addresses: imports only point down.
_GROUPS: Final[Sequence[tuple[str, Sequence[tuple[str, str, str]]]]] = (
    (
        "How the shop works",
        (
            ("Stages", "/stages/", "the steps in which a lure comes to be"),
            ("Bills of materials", "/bills/", "what one piece takes"),
            ("Check definitions", "/check-definitions/", "what is tested, how many, what passes"),
            ("Scrap reasons", "/scrap-reasons/", "why pieces did not become good ones"),
            ("Places", "/places/", "shelves, benches, premises outside"),
            ("Equipment", "/equipment/", "presses, molds, wheels, booths"),
            ("Models", "/models/", "the shapes of lures"),
            ("Colorways", "/colorways/", "how they are painted"),
            ("Label stocks", "/label-stocks/", "rolls and sheets that papers are printed on"),
        ),
    ),
    (
        "People",
        (
            ("People and roles", "/people/", "who may do what"),
            ("Tokens", "/tokens/", "what programs come in by"),
            ("Yourself", "/me/", "your password, your sign-ins, your tokens"),
        ),
    ),
    (
        "Records in and out",
        (
            ("Import", "/imports/new/", "sheets of your own, checked first"),
            ("Imports", "/imports/", "what was imported, by whom, of which files"),
            ("Empty sheets to fill in", "/imports/templates/", "for every kind of record"),
            ("Headings", "/imports/headings/", "what headings of your own stand for"),
            ("Books", "/books/", "a period: stock before, what came and went, stock after"),
            ("Stock at the end of a day", "/books/stock/", "for the count at the year's end"),
        ),
    ),
    (
        "What was done",
        (
            ("Postings", "/postings/", "every event that changed an amount or a value"),
            ("Changes", "/changes/", "edits of plain tables"),
            ("Ways in", "/access-events/", "sign-ins, passwords, tokens"),
            ("Printings", "/printings/", "who had what printed"),
        ),
    ),
    (
        "The program",
        (
            ("Settings", "/settings/", "what is set on the computer that runs this"),
            ("What the API can do", "/api/docs/", "for programs of your own"),
        ),
    ),
)


class ShopPage(PageDoor):
    """Set-up and records."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The ways that are open to who is signed in."""
        return self.page("shopfloor/shop.html", {"groups": list(_groups(request))})


def _groups(request: HttpRequest) -> Iterator[tuple[str, list[tuple[Way, str]]]]:
    for heading, ways in _GROUPS:
        seen = [
            (Way(label, address, is_here=False), about)
            for label, address, about in ways
            if may_see(request, address)
        ]
        if seen:
            yield heading, seen


class SettingsPage(ThingPage):
    """What is set."""

    door = shop.SettingsDoor
    title = "Settings"
    facts = ("nothing",)
    tables = (
        Table(
            "settings",
            "As this program runs now",
            (Column("name", "Variable"), Column("is", "Is"), Column("about", "What it is")),
        ),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """What is set is no money, whatever the member is called."""
        said = super().thing(request)
        return {"settings": [{**each, "is": each["value"]} for each in said["settings"]]}

    def heading(self, thing: object) -> str:
        """Where they are changed."""
        return "of the computer that runs this"


urlpatterns = [
    path("shop/", ShopPage.as_view()),
    path("settings/", SettingsPage.as_view()),
]
