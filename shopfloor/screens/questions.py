"""A question of the API as a page: what is asked as a form, the answer in words, facts and tables.

It writes nothing, so its form is in the address: it can be kept, sent on and asked again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from rest_framework.fields import empty

from shopfloor.doors import Door, PageDoor
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import inputs
from shopfloor.screens.blame import blamed
from shopfloor.screens.cells import cell, within, words
from shopfloor.screens.things import Table, drawn
from shopfloor.screens.within import ask


class QuestionPage(PageDoor):
    """What a door answers to some parameters, for people.

    Attributes:
        door: The API's door; its `asks` is the form.
        title: The heading.
        says: What it answers, in a sentence.
        button: What the button says.
        labels: Other words for fields of the form and of the answer.
        later: Fields of the form behind "More".
        lead: The member that has the answer in sentences.
        facts: Members of the answer shown, in order.
        tables: Its tables, in order.
        to: Lists that members lead to, where the name does not say.
    """

    door: ClassVar[type[Door]]
    title: ClassVar[str]
    says: ClassVar[str] = ""
    button: ClassVar[str] = "Look"
    labels: ClassVar[Mapping[str, str]] = {}
    later: ClassVar[Collection[str]] = ()
    lead: ClassVar[str] = "why"
    facts: ClassVar[Sequence[str]] = ()
    tables: ClassVar[Sequence[Table]] = ()
    to: ClassVar[Mapping[str, str]] = {}
    template: ClassVar[str] = "shopfloor/question.html"

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "door" in vars(cls):
            cls.roles = {"GET": cls.door.roles["GET"]}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form; and the answer, where something was asked."""
        asked = request.GET.dict()
        said, refused, problem, status = None, None, None, 200
        if asked:
            try:
                said = ask(request, request.path.removeprefix("/"), **asked)
            except ShopError as error:
                refused, problem, status = error, problem_of(error), error.status
        context = {**self._form(asked, refused), **({} if said is None else self.answer(said))}
        return self.page(
            self.template,
            {
                "title": self.title,
                "says": self.says,
                "button": self.button,
                "said": said,
                "problem": problem,
                **context,
            },
            status=status,
        )

    def answer(self, said: Mapping[str, Any]) -> dict[str, Any]:
        """What the template shows of the answer. Override to add to it."""
        facts = []
        for name in self.facts:
            value = cell(name, within(said, name), self.to.get(name, ""))
            if value.text:
                facts.append((self.labels.get(name, words(name)), value))
        tables = [
            drawn(table, within(said, table.name) or [])
            for table in self.tables
            if within(said, table.name) or table.none
        ]
        return {"sentences": said.get(self.lead, []), "facts": facts, "tables": tables}

    def _form(self, asked: Mapping[str, str], refused: ShopError | None) -> dict[str, Any]:
        assert self.door.asks is not None
        shape: Any = self.door.asks()
        usual = {
            name: each.default
            for name, each in shape.fields.items()
            if each.default not in (empty, None)
        }
        values, look = {**usual, **asked}, inputs.Look(labels=self.labels)
        made = inputs.inputs_of(shape, values, {}, look)
        if refused is not None and (wrong := blamed(made, refused)):
            made = inputs.inputs_of(shape, values, wrong, look)
        later = [each for each in made if each.name in self.later]
        return {
            "inputs": [each for each in made if each.name not in self.later],
            "later": later,
            "is_more_open": any(each.wrong or asked.get(each.name) for each in later),
        }
