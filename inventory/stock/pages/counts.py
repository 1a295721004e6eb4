"""Pages of counts: what was found, what differs before it is posted, and its undoing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import Any, ClassVar, Final

import orjson
from django.urls import path
from rest_framework import serializers

from inventory.stock.api import books
from shopfloor.errors import InvalidInputError
from shopfloor.screens import (
    FILLED,
    Act,
    ActPage,
    Column,
    ListPage,
    Table,
    ThingPage,
    ask,
    drawn,
    tell,
)
from shopfloor.screens.acts import SHOWN
from shopfloor.screens.inputs import ABOUT

LOTS_MAX: Final = 200
"""Rows offered of one shelf: as many as a page of the API has."""
COUNTED: Final = ("shelf", "bench")
_STANDING = {"posting": FILLED, "reversed_by": [None]}
_FOUND = (
    Column("lot"),
    Column("item"),
    Column("expected", "The books said"),
    Column("found"),
    Column("difference"),
    Column("value", "Worth"),
)


class CountsPage(ListPage):
    """Counts."""

    door = books.CountsDoor
    title = "Counts"
    says = "What was found on the shelf, and the difference it made."
    columns = (
        Column("code", "Count"),
        Column("at", "When"),
        Column("by"),
        Column("reason", "Why it differed"),
        Column("value", "Worth"),
        Column("reversed_by", "Undone by", to="postings"),
    )
    acts = (Act("Count", "/counts/new/", is_main=True),)
    none = "Nothing was counted yet."


class CountPage(ThingPage):
    """One count."""

    door = books.CountDoor
    title = "Count"
    labels: ClassVar = {"reversed_by": "Undone by"}
    tables = (Table("lines", "What was found", _FOUND),)
    acts = (Act("Undo", "reverse/", _STANDING),)


class CountReverseForm(ActPage):
    """A count that was wrong."""

    door = books.CountReverseDoor
    title = "Undo the count"
    done = "{code} is undone."
    needs = ("reason",)

    def context(self) -> dict[str, Any]:
        """With what it found, and what it changed."""
        count = ask(self.request, f"counts/{self.kwargs['code']}/")
        return {
            "says": f"{count['code']} found this and changed the books by {count['value']}. Undone,"
            " each lot is back by as much. Then count again.",
            "table": drawn(Table("lines", "What was found", _FOUND), count["lines"]),
        }


class CountForm(ActPage):
    """A count: what differs from the books is shown before it is posted."""

    door = books.CountsDoor
    template = "inventory/count.html"
    title = "Count"
    says = (
        "Scan a lot, write what you found; many pieces are weighed, under More. A row left empty "
        "is not counted: write 0 where nothing is left."
    )
    button = "Count"
    done = "The count is posted."
    rows = 5
    labels: ClassVar = {
        "reason": "Why it differs",
        "lines": "What was found",
        "lines.found": "Found",
        "lines.gross": "Weighed, with its container",
        "lines.tare": "The container alone",
    }
    first = ("lines",)
    later = ("at", "lines.gross.amount", "lines.tare.amount")
    leaves = ("lines.expected",)
    differing: Sequence[Mapping[str, Any]] = ()
    previewed: Sequence[Mapping[str, Any]] = ()
    is_seen = False

    def initial(self) -> dict[str, Any]:
        """The lot of the address, or the first lots at the place of the address."""
        if code := self.request.GET.get("lot"):
            return {"lines": [_line(ask(self.request, f"lots/{code}/")["lot"])]}
        return {"lines": [_line(lot) for lot in self.here]}

    @cached_property
    def here(self) -> Sequence[Mapping[str, Any]]:
        """The first lots at the place of the address."""
        place = self.request.GET.get("place")
        if not place:
            return ()
        asked = {"place": place, "is_on_hand": "true", "ordering": "code", "page_size": LOTS_MAX}
        listed: Sequence[Mapping[str, Any]] = ask(self.request, "lots/", **asked)["results"]
        return listed

    def entered(self) -> dict[str, Any]:
        """Rows with a find come first, as the API is told them: its problems name rows by place."""
        entered = super().entered()
        known = {lot["code"]: _about(lot) for lot in self.here}
        lines = [
            {**line, ABOUT: known.get(str(line.get("lot", "")).strip().upper(), "")}
            for line in entered.get("lines", ())
            if isinstance(line, Mapping)
        ]
        return {**entered, "lines": sorted(lines, key=lambda line: not _has_find(line))}

    def body(self, shape: serializers.Serializer[Any], entered: Mapping[str, Any]) -> Any:
        """What was found, with what the counter was shown: a lot that changed since is refused."""
        found = [line for line in entered["lines"] if _has_find(line)]
        if not found:
            said = "Write what you found of at least one lot; 0 where nothing is left."
            raise InvalidInputError(said, fields={"lines": [said]})
        body = super().body(shape, {**entered, "lines": found})
        self.previewed = tell(self.request, "counts/preview/", body, key="")["lines"]
        self.differing = [row for row in self.previewed if row["expected"] != row["found"]]
        shown = self.shown()
        self.is_seen = {lot: pair[1] for lot, pair in shown.items()} == {
            row["lot"]: row["found"] for row in self.previewed
        }
        for line, row in zip(body["lines"], self.previewed, strict=True):
            line["expected"] = shown[row["lot"]][0] if self.is_seen else row["found"]
        return body

    def shown(self) -> dict[str, Any]:
        """What was said to differ when the form was sent: expected and found, by lot."""
        try:
            shown = orjson.loads(self.request.POST.get(SHOWN, ""))
            return {lot: (pair[0], pair[1]) for lot, pair in shown.items()}
        except (orjson.JSONDecodeError, AttributeError, LookupError, TypeError):
            return {}

    def is_to_confirm(self, body: Any) -> bool:
        """Whether anything differs that was not shown yet."""
        return bool(self.differing) and not self.is_seen

    def needed(self) -> Collection[str]:
        """What differs needs its reason."""
        return ("lines.found", "reason") if self.differing else ("lines.found",)

    def context(self) -> dict[str, Any]:
        """With what differs; or with the shelves to choose from."""
        if not self.differing:
            place = self.request.GET.get("place", "")
            return {
                "place": place,
                "is_empty": bool(place) and not self.here,
                "shelves": [place for kind in COUNTED for place in self._places(kind)],
            }
        lines = {row["lot"]: (row["expected"], row["found"]) for row in self.previewed}
        return {
            "table": drawn(Table("lines", "Is this right?", _FOUND), self.differing),
            "counted": len(self.previewed),
            "shown": orjson.dumps(lines).decode(),
            "button": "Post the differences",
        }

    def _places(self, kind: str) -> Sequence[Mapping[str, Any]]:
        asked = {"kind": kind, "is_active": "true", "page_size": LOTS_MAX}
        listed: Sequence[Mapping[str, Any]] = ask(self.request, "places/", **asked)["results"]
        return listed


def _line(lot: Mapping[str, Any]) -> dict[str, Any]:
    return {"lot": lot["code"], "found": {"unit": lot["on_hand"]["unit"]}, ABOUT: _about(lot)}


def _about(lot: Mapping[str, Any]) -> str:
    return f"{lot['item']} {lot['item_name']}"


def _has_find(line: Mapping[str, Any]) -> bool:
    found = [line.get(name) for name in ("found", "gross", "tare")]
    return any(str(each.get("amount", "")).strip() for each in found if isinstance(each, Mapping))


urlpatterns = [
    path("counts/", CountsPage.as_view()),
    path("counts/new/", CountForm.as_view()),
    path("counts/<str:code>/", CountPage.as_view()),
    path("counts/<str:code>/reverse/", CountReverseForm.as_view()),
]
