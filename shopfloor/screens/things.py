"""One thing of the API as a page: what is known of it, its tables, what can be done with it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, ClassVar, Final, NamedTuple
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse

from shopfloor.doors import Door, PageDoor
from shopfloor.screens.cells import (
    Cell,
    Column,
    Quoted,
    both_systems,
    cell,
    columns_of,
    is_amount,
    named,
    within,
    words,
)
from shopfloor.screens.within import ROOT, ask, may

OPEN_MAX: Final = 8
"""Rows of a table that stand open; more are folded where it folds."""
ACTS_MAX: Final = 6
"""Buttons that stand side by side; of more, those for something special are folded."""


PAPER: Final = "Paper"
"""The group of what prints; papers come to it by themselves."""


class _Filled(tuple[Any, ...]):
    """Whatever says something, in `Act.when`."""

    def __contains__(self, value: object) -> bool:
        return bool(value)


FILLED: Final = _Filled()


class Act(NamedTuple):
    """Something that can be done: a button that leads to its form.

    Attributes:
        label: What it says, a verb first.
        address: That of its page: below the thing's own, or from the root with a slash in front.
            `{code}` and other members of the thing in braces stand for what they say.
        when: Members of the thing and what each must be, for the button to be there.
        door: The API's address it needs a POST to, if that is not the page's own.
        is_main: Whether it is the usual next step.
        group: What it is for, in a word: of many, those with one are folded.
    """

    label: str
    address: str
    when: Mapping[str, Collection[Any]] = {}
    door: str | None = None
    is_main: bool = False
    group: str = ""


class Paper(NamedTuple):
    """A paper to print of a thing: its kind in the API, and what the button says."""

    kind: str
    label: str


class Table(NamedTuple):
    """A table of a thing's page.

    Attributes:
        name: The member with the rows.
        title: Its heading.
        columns: What is shown; every member that says something, where left out.
        none: What to say without rows; no table at all where left out.
        folds: Whether a long one is folded away under its heading.
    """

    name: str
    title: str = ""
    columns: Sequence[Column] = ()
    none: str = ""
    folds: bool = False


class Button(NamedTuple):
    """An act that may be done here and now."""

    label: str
    address: str
    is_main: bool
    group: str = ""


class Fold(NamedTuple):
    """Buttons that are for the same, and papers to print."""

    title: str
    acts: Sequence[Button]
    papers: Sequence[tuple[str, str]] = ()


class Drawn(NamedTuple):
    """A table as it is drawn."""

    slug: str
    title: str
    headings: Sequence[tuple[str, bool]]
    rows: Sequence[Sequence[Cell]]
    none: str
    is_folded: bool = False


class ThingPage(PageDoor):
    """One thing that a door of the API answers, for people.

    Attributes:
        door: The API's door; who may read it may see the page.
        title: What it is, in one word: "Lot".
        facts: Members shown, in order; every plain one, where left out.
        hidden: Members not shown, where `facts` are left out.
        tables: The tables, in order; every list of objects, where left out.
        acts: What can be done with it.
        papers: What can be printed of it.
        labels: Other words for members.
        to: Lists that members lead to, where the name does not say.
        inner: The member that has the thing itself, where others stand beside it.
    """

    door: ClassVar[type[Door]]
    title: ClassVar[str]
    facts: ClassVar[Sequence[str]] = ()
    hidden: ClassVar[Collection[str]] = ()
    tables: ClassVar[Sequence[Table] | None] = None
    acts: ClassVar[Sequence[Act]] = ()
    papers: ClassVar[Sequence[Paper]] = ()
    labels: ClassVar[Mapping[str, str]] = {}
    to: ClassVar[Mapping[str, str]] = {}
    inner: ClassVar[str] = ""
    template: ClassVar[str] = "shopfloor/thing.html"

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "door" in vars(cls):
            cls.roles = {"GET": cls.door.roles["GET"]}

    def get(self, request: HttpRequest, **address: object) -> HttpResponse:
        """The page."""
        context = self.context(self.thing(request))
        return self.page(self.template, {**context, **folded(context["acts"], context["papers"])})

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """What the API says of it."""
        said: Mapping[str, Any] = ask(request, request.path.removeprefix("/"), **request.GET.dict())
        return {**said, **said[self.inner]} if self.inner else said

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """What the template shows. Override to add to it."""
        code = str(thing.get("code", ""))
        return {
            "thing": thing,
            "title": self.title,
            "heading": self.heading(thing),
            "facts": list(self._facts(thing)),
            "tables": list(self._tables(thing)),
            "acts": acts_for(self.request, self.acts, self.request.path, thing),
            "papers": [
                (paper.label, f"{ROOT}labels/{paper.kind}/{quote(code)}.pdf")
                for paper in self.papers
            ],
        }

    def heading(self, thing: Mapping[str, Any]) -> str:
        """Its code, and its name."""
        return named(thing)

    def _facts(self, thing: Mapping[str, Any]) -> Iterator[tuple[str, Cell]]:
        names: Iterable[str] = self.facts or [
            name
            for name, value in thing.items()
            if name not in {*self.hidden, "code", self.inner} and not _is_table(value)
        ]
        for name in names:
            value = within(thing, name)
            shown = (
                both_systems(value)
                if is_amount(value)
                else cell(name, value, self.to.get(name, ""))
            )
            if shown.text:
                yield self.labels.get(name, words(name)), shown

    def _tables(self, thing: Mapping[str, Any]) -> Iterator[Drawn]:
        declared = self.tables
        if declared is None:
            declared = [
                Table(name)
                for name, value in thing.items()
                if _is_table(value) and name not in self.hidden
            ]
        for table in declared:
            rows = within(thing, table.name) or []
            if rows or table.none:
                yield drawn(table, rows)


def drawn(table: Table, rows: Sequence[Mapping[str, Any]]) -> Drawn:
    """A table's cells; a column that says nothing in any row is left out."""
    columns = table.columns or columns_of(rows)
    found = [(each, [each.cell(row) for row in rows]) for each in columns]
    said = [(each, cells) for each, cells in found if any(cell.text for cell in cells)]
    headings = [(each.heading, any(cell.is_number for cell in cells)) for each, cells in said]
    cells = list(zip(*(cells for _, cells in said), strict=True))
    slug = table.name.replace(".", "-").replace("_", "-")
    is_folded = table.folds and len(rows) > OPEN_MAX
    return Drawn(slug, table.title or words(table.name), headings, cells, table.none, is_folded)


def _is_table(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def acts_for(
    request: HttpRequest, acts: Sequence[Act], here: str, thing: Mapping[str, Any]
) -> list[Button]:
    """Those of the acts that who is signed in may do with the thing as it stands."""
    buttons = []
    for act in acts:
        if not all(within(thing, name) in allowed for name, allowed in act.when.items()):
            continue
        address = act.address.format_map(Quoted(thing))
        address = address if address.startswith("/") else here + address
        door = act.door if act.door is not None else address.partition("?")[0]
        if door and not may(request, "POST", door.removeprefix("/").removesuffix("new/")):
            continue
        buttons.append(Button(act.label, address, act.is_main, act.group))
    return buttons


def folded(acts: Sequence[Button], papers: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """The buttons as a page shows them: of many only the usual ones first, the others by group."""
    if len(acts) + len(papers) <= ACTS_MAX:
        return {"folds": ()}
    titles = dict.fromkeys(act.group for act in acts if act.group)
    folds = [Fold(title, [act for act in acts if act.group == title]) for title in titles]
    if papers:
        folds = [fold for fold in folds if fold.title != PAPER]
        folds.append(Fold(PAPER, [act for act in acts if act.group == PAPER], papers))
    return {"acts": [act for act in acts if not act.group], "papers": (), "folds": folds}
