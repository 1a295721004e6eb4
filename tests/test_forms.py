"""Every form of the pages: nonsense is told at its field, and nothing that was typed is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any, Final, NamedTuple

import pytest
from django.test import Client
from django.urls import get_resolver

from shopfloor.access import view_class
from shopfloor.models import User
from shopfloor.screens import ActPage, QuestionPage
from tests.batches.conftest import bench, owner
from tests.batches.exchange.conftest import imports, small_shop
from tests.batches.exchange.moving import everything_happens
from tests.pages import browse

__all__ = ["bench", "imports", "owner", "small_shop"]  # fixtures of the rooms

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

NONSENSE: Final = 'no "such" <thing> & ' + "x" * 4000
NONSENSE_OF: Final = {
    "date": "2026-13-45",
    "datetime-local": "the day before",
    "numeric": "a few <b>",
    "decimal": "1,5,5",
}
"""By the type of the input, or by what keys it asks for."""
FIRST_ASKED: Final = {"checks/new/": "checks/new/?definition=DUNK&batch=GL1"}
"""Forms that come after a question."""
FORMS_MIN: Final = 80


class Typed(NamedTuple):
    """What stands in a field that is typed into, and whether it is said to be wrong."""

    kind: str
    text: str
    is_wrong: bool


class Form(HTMLParser):
    """The fields of a page, by name: typed, hidden, or chosen from some."""

    def __init__(self, answer: Any) -> None:
        super().__init__()
        self.typed: dict[str, Typed] = {}
        self.others: dict[str, str] = {}
        self._open = ""
        self.feed(answer.content.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        name, kind = said.get("name", ""), said.get("type", "")
        if tag in {"textarea", "select"}:
            self._open = name
        is_wrong = "aria-invalid" in said
        if tag == "textarea":
            self.typed[name] = Typed("", "", is_wrong)
        elif tag == "option" and said["value"]:
            self.others.setdefault(self._open, said["value"])
        elif tag == "input" and kind == "hidden":
            self.others.setdefault(name, said.get("value", ""))
        elif tag == "input" and said.get("id") != "find" and kind != "checkbox":
            kind = kind or said.get("inputmode", "")
            self.typed[name] = Typed(kind, said.get("value", ""), is_wrong)

    def handle_data(self, data: str) -> None:
        if self._open in self.typed:
            before = self.typed[self._open]
            self.typed[self._open] = before._replace(text=before.text + data)

    def handle_endtag(self, tag: str) -> None:
        if tag in {"textarea", "select"}:
            self._open = ""


def pages_of(kind: type[Any]) -> Iterator[str]:
    """Addresses of the pages of a kind, with their parameters."""
    for address, view in _views(get_resolver().url_patterns, ""):
        found = view_class(view)
        if found is not None and issubclass(found, kind):
            yield FIRST_ASKED.get(address, address)


def _views(patterns: Any, before: str) -> Iterator[tuple[str, Any]]:
    for pattern in patterns:
        address = before + str(pattern.pattern)
        if hasattr(pattern, "url_patterns"):
            yield from _views(pattern.url_patterns, address)
        else:
            yield address, pattern.callback


def first_of(client: Client, kind: str) -> str:
    """What names the first thing of a list; something that names nothing, where there is none."""
    said = client.get(f"/api/v1/{kind}/").json()
    rows = said.get("results", []) if isinstance(said, dict) else said
    if not rows:
        return "1"
    row = rows[0]["item"] if isinstance(rows[0].get("item"), dict) else rows[0]
    names = ("code", "username", "item", "name")
    return str(next((row[name] for name in names if row.get(name)), "1"))


def addressed(client: Client, address: str) -> str:
    """An address of something that is there."""
    if "<" not in address:
        return f"/{address}"
    first = first_of(client, address.partition("/")[0])
    of_it = re.sub(r"<\w+:\w+>", lambda _: first, address, count=1)
    return "/" + re.sub(r"<\w+:\w+>", "1", of_it)


def nonsense_for(form: Form) -> dict[str, str]:
    return {name: NONSENSE_OF.get(each.kind, NONSENSE) for name, each in form.typed.items()}


def faults(sent: dict[str, str], answer: Any) -> Iterator[str]:
    """What a refused form should say or have kept, and does not."""
    form = Form(answer)
    if answer.status_code != 422:
        yield f"is answered {answer.status_code}"
    for name, text in sent.items():
        found = form.typed.get(name, Typed("", "", is_wrong=False))
        if found.kind != "password" and found.text.strip() != text.strip():
            yield f"has lost {name}"
        if not found.is_wrong:
            yield f"says nothing at {name}"


@pytest.fixture
def desk(small_shop: None, owner: User, bench: User) -> Client:
    """The owner, in a shop in which everything happened once."""
    everything_happens(owner, bench)
    return browse(owner)


def test_nonsense_in_a_form_is_told_at_each_field_and_none_of_it_is_lost(desk: Client) -> None:
    wrong: list[str] = []
    tried = 0
    for address in (addressed(desk, each) for each in pages_of(ActPage)):
        form = Form(desk.get(address))
        typed = nonsense_for(form)
        answer = desk.post(address, {**form.others, **typed})
        tried += bool(typed)
        wrong += [f"{address} {fault}" for fault in faults(typed, answer) if typed]
    assert not wrong, "\n".join(wrong)
    assert tried >= FORMS_MIN


def test_nonsense_in_a_question_is_told_at_its_field_and_stays(desk: Client) -> None:
    wrong: list[str] = []
    for address in (addressed(desk, each) for each in pages_of(QuestionPage)):
        form = Form(desk.get(address))
        typed = nonsense_for(form)
        form.others.pop("csrfmiddlewaretoken")  # that of signing out
        answer = desk.get(address, {**form.others, **typed})
        wrong += [f"{address} {fault}" for fault in faults(typed, answer)]
    assert not wrong, "\n".join(wrong)
