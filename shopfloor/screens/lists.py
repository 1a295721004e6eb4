"""A list of the API as a page: filters, search, order, pages, and the way to a sheet of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, ClassVar, NamedTuple
from urllib.parse import quote

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django_filters.fields import IsoDateTimeRangeField
from rest_framework import serializers

from shopfloor.days import day_end, day_start
from shopfloor.doors import ListDoor, PageDoor
from shopfloor.doors.lists import filter_parameters
from shopfloor.errors import InvalidInputError
from shopfloor.fields import DayField
from shopfloor.problems import problem_of
from shopfloor.screens.cells import REFERENCES, SAID, Cell, Column, Quoted, row_of, words
from shopfloor.screens.things import Act, acts_for
from shopfloor.screens.within import ROOT, ask

_NOT_FILTERS = frozenset({"page", "page_size", "ordering"})


class FilterInput(NamedTuple):
    """One filter of the form above a list.

    Attributes:
        kind: "choice", "day" or "text".
        look: The list its codes are looked up in, if any.
    """

    name: str
    label: str
    kind: str
    value: str
    choices: Sequence[tuple[str, str]] = ()
    look: str = ""


class Heading(NamedTuple):
    """One column's heading; `turn` is what orders the list by it, the other way round if it is."""

    label: str
    turn: str
    direction: str
    is_number: bool


class ListPage(PageDoor):
    """The list a door of the API answers, for people.

    Attributes:
        door: The API's door; who may read it may see the page.
        title: The heading.
        says: A sentence under it.
        columns: What is shown; the first leads to the thing.
        filters: Those parameters of the door that the form offers.
        acts: What can be done from here.
        none: What to say, and to do, when there is nothing.
        to: The page of a row, with members of it in braces, or "" for none; the thing below this
            page where left out.
        preset: Filters that hold until others are asked for.
    """

    door: ClassVar[type[ListDoor]]
    title: ClassVar[str]
    says: ClassVar[str] = ""
    columns: ClassVar[Sequence[Column]]
    filters: ClassVar[Sequence[str]] = ()
    acts: ClassVar[Sequence[Act]] = ()
    none: ClassVar[str] = "Nothing here yet."
    to: ClassVar[str | None] = None
    preset: ClassVar[Mapping[str, str]] = {}
    template: ClassVar[str] = "shopfloor/list.html"

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "door" in vars(cls):
            cls.roles = {"GET": cls.door.roles["GET"]}

    def get(self, request: HttpRequest, **address: str) -> HttpResponse:
        """The page; what cannot be filtered by is said above the form, which keeps it."""
        asked = self._asked(request)
        listed, problem, status = {"count": 0, "results": []}, None, 200
        try:
            listed = ask(request, request.path.removeprefix("/"), **self._sent(asked))
        except InvalidInputError as refused:
            problem, status = problem_of(refused), refused.status
        return self.page(
            self.template, {**self._context(asked, listed), "problem": problem}, status=status
        )

    def _asked(self, request: HttpRequest) -> dict[str, str]:
        given = {name: text.strip() for name, text in request.GET.dict().items()}
        return given if given else dict(self.preset)

    def _sent(self, asked: Mapping[str, str]) -> dict[str, str]:
        """What the API is asked: a day where it wants a moment is all of the shop's day."""
        moments = {
            name
            for name, field in self._known().items()
            if isinstance(field, IsoDateTimeRangeField)
        }
        return {
            name: _moment(name, text) if name in moments else text for name, text in asked.items()
        }

    def _known(self) -> dict[str, Any]:
        """The door's parameters and their fields."""
        known: dict[str, Any] = {} if self.door.asks is None else dict(self.door.asks().fields)  # type: ignore[attr-defined]
        if self.door.filterset_class is not None:
            known |= {
                name: field for name, _, field in filter_parameters(self.door.filterset_class)
            }
        return known

    def _context(self, asked: Mapping[str, str], listed: Mapping[str, Any]) -> dict[str, Any]:
        rows = listed["results"]
        columns, cells = self._saying([self._cells(row) for row in rows])
        return {
            "title": self.title,
            "says": self.says,
            "none": self.none,
            "count": listed["count"],
            "headings": list(self._headings(asked, columns, cells)),
            "rows": list(map(row_of, cells)),
            "filters": list(self._filters(asked)),
            "has_search": bool(self.door.search_fields),
            "search": asked.get("search", ""),
            "ordering": asked.get("ordering", ""),
            "is_preset": dict(asked) == dict(self.preset),
            "is_filtered": any(asked.get(name) for name in asked.keys() - _NOT_FILTERS),
            "pages": _pages(asked, listed),
            "acts": acts_for(self.request, self.acts, self.request.path, {}),
            "sheets": [(kind.upper(), self._sheet(asked, kind)) for kind in ("csv", "xlsx")],
        }

    def _sheet(self, asked: Mapping[str, str], kind: str) -> str:
        door = ROOT + self.request.path.removeprefix("/")
        return f"{door}?{_query(self._sent(asked), format=kind)}"

    def _cells(self, row: Mapping[str, Any]) -> list[Cell]:
        cells = [each.cell(row) for each in self.columns]
        if cells[0].text and not cells[0].address and self.to != "":
            address = f"{self.request.path}{quote(cells[0].text, safe='')}/"
            if self.to is not None:
                address = self.to.format_map(Quoted(row))
            cells[0] = cells[0]._replace(address=address)
        return cells

    def _saying(self, rows: list[list[Cell]]) -> tuple[list[Column], list[list[Cell]]]:
        """The columns that say something in any of the rows, or order them; and their cells."""
        kept = [
            at
            for at, column in enumerate(self.columns)
            if column.order or any(row[at].text for row in rows)
        ]
        return [self.columns[at] for at in kept], [[row[at] for at in kept] for row in rows]

    def _headings(
        self, asked: Mapping[str, str], columns: Sequence[Column], rows: list[list[Cell]]
    ) -> Iterator[Heading]:
        now = asked.get("ordering", "")
        for at, column in enumerate(columns):
            is_up, is_down = now == column.order, now == f"-{column.order}"
            turn = _query(asked, page="", ordering=f"-{column.order}" if is_up else column.order)
            yield Heading(
                column.heading,
                turn if column.order else "",
                ("ascending" if is_up else "descending" if is_down else "") if column.order else "",
                any(row[at].is_number for row in rows),
            )

    def _filters(self, asked: Mapping[str, str]) -> Iterator[FilterInput]:
        known = self._known()
        for name in self.filters:
            yield _filter_input(name, known[name], asked.get(name, ""))


def _moment(name: str, text: str) -> str:
    """The first or the last moment of a shop's day; what is no day as it stands."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return text
    moment = day_start(day) if name.endswith("_after") else day_end(day)
    return moment.isoformat()


def _filter_input(name: str, field: Any, value: str) -> FilterInput:
    label = SAID.get(name) or _label(name)
    if isinstance(field, serializers.ChoiceField):
        choices = [(str(code), str(text)) for code, text in field.choices.items()]
        return FilterInput(name, label, "choice", value, choices)
    if isinstance(field, forms.ChoiceField):
        offered: Any = field.choices
        choices = [(str(code), str(text)) for code, text in offered if code]
        return FilterInput(name, label, "choice", value, choices)
    if isinstance(field, forms.NullBooleanField | serializers.BooleanField):
        return FilterInput(name, label, "choice", value, [("true", "yes"), ("false", "no")])
    if isinstance(field, DayField):
        return FilterInput(name, label, "day", value)
    if name.endswith(("_on", "_after", "_before")):
        return FilterInput(name, label, "day", value)
    return FilterInput(name, label, "text", value, look=REFERENCES.get(name, ""))


def _label(name: str) -> str:
    """A filter's name as words: `planned_on_after` is "Planned on from"."""
    for ending, word in (("_after", " from"), ("_before", " to")):
        if name.endswith(ending):
            return words(name.removesuffix(ending)) + word
    return words(name.removeprefix("is_"))


def _query(asked: Mapping[str, str], **other: str) -> str:
    query = QueryDict(mutable=True)
    wanted = {**asked, **other}
    if "format" in other:
        wanted.pop("page", None)
        wanted.pop("page_size", None)
    query.update({name: text for name, text in wanted.items() if text})
    return query.urlencode()


def _pages(asked: Mapping[str, str], listed: Mapping[str, Any]) -> dict[str, str]:
    number = int(asked.get("page") or 1) if (asked.get("page") or "1").isdecimal() else 1
    pages = {"number": str(number)}
    if listed.get("previous"):
        pages["previous"] = _query(asked, page=str(number - 1))
    if listed.get("next"):
        pages["next"] = _query(asked, page=str(number + 1))
    return pages
