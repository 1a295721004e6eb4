"""One write of the API as a form: what was typed stays until it is taken, and is taken once."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import Any, ClassVar

import orjson
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from rest_framework import serializers

from shopfloor.doors import Door, PageDoor
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import inputs, typed
from shopfloor.screens.blame import blamed
from shopfloor.screens.within import ask, tell

SHOWN = "shown"
NEW = "new/"  # the form of `POST /api/v1/things/` stands at `/things/new/`


class ActPage(PageDoor):
    """The form of one write. Who may do it may see it.

    Attributes:
        door: The API's door; its `takes["POST"]` is the form.
        title: The heading, a verb first.
        says: What it does, in a sentence or two.
        button: What the button says; the title where left out.
        done: What is said when it is done; members of the answer in braces.
        labels: Other words for fields, by dotted name without numbers.
        helps: What stands under a field.
        first: Fields that come before the others, by dotted name without numbers.
        later: Fields behind "More", of the form or of each row of a list.
        leaves: Fields the form does not have.
        needs: Fields that must be filled, though the API's shape lets them be empty.
        rows: How many empty rows each list offers.
        looks: Lists that codes are looked up in, by field, where its name does not say.
        lands: Where to go when it is done, members of the answer in braces; the thing where left
            out.
    """

    door: ClassVar[type[Door]]
    title: ClassVar[str]
    says: ClassVar[str] = ""
    button: ClassVar[str] = ""
    done: ClassVar[str] = "Done."
    labels: ClassVar[Mapping[str, str]] = {}
    helps: ClassVar[Mapping[str, str]] = {}
    first: ClassVar[Sequence[str]] = ()
    later: ClassVar[Collection[str]] = ("at",)
    leaves: ClassVar[Collection[str]] = ()
    needs: ClassVar[Collection[str]] = ()
    rows: ClassVar[int] = 3
    looks: ClassVar[Mapping[str, str]] = {}
    lands: ClassVar[str] = ""
    template: ClassVar[str] = "shopfloor/act.html"

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "door" in vars(cls):
            cls.roles = {"GET": cls.door.roles["POST"], "POST": cls.door.roles["POST"]}

    @property
    def api_address(self) -> str:
        """The door's address below the API's root."""
        return self.request.path.removeprefix("/").removesuffix(NEW)

    def shape(self) -> serializers.Serializer[Any] | None:
        """What the door takes."""
        taken: Any = self.door.takes.get("POST")
        return None if taken is None else taken()

    def get(self, request: HttpRequest, **address: object) -> HttpResponse:
        """The form, with what the address or the thing says already."""
        given = typed.nested(request.GET.dict())
        return self.form({**self.initial(), **given}, {})

    def post(self, request: HttpRequest, **address: object) -> HttpResponse:
        """Do it and go on to the thing; or the form again, with what is wrong at its field."""
        shape = self.shape()
        entered = self.entered()
        more = request.POST.get("more_rows")
        if more:
            return self.form(entered, {}, more=more)
        try:
            body = {} if shape is None else self.body(shape, entered)
            if self.is_to_confirm(body):
                return self.form(typed.compact(entered), {})
            answer = tell(request, self.api_address, body, key=request.POST.get(KEY_FIELD, ""))
        except ShopError as refused:
            return self.form(typed.compact(entered), refused)
        messages.success(request, self.done.format_map(_Members(answer)))
        return HttpResponseRedirect(self.landing(answer))

    def initial(self) -> dict[str, Any]:
        """What stands in the form before anybody typed. Override to offer something."""
        return {}

    def entered(self) -> dict[str, Any]:
        """What was typed. Override to put it in another order."""
        return typed.nested(typed.sent(self.request.POST))

    def left_out(self) -> Collection[str]:
        """Fields the form does not have. Override where that is told by the thing."""
        return self.leaves

    def empty_rows(self) -> int:
        """How many empty rows each list offers. Override where that is told by the thing."""
        return self.rows

    def needed(self) -> Collection[str]:
        """Fields that must be filled. Override where that is told by what was typed."""
        return self.needs

    def choices(self) -> Mapping[str, Sequence[tuple[str, str]]]:
        """What a text is chosen from, by field. Override where the API takes more than it lists."""
        return {}

    def body(self, shape: serializers.Serializer[Any], entered: Mapping[str, Any]) -> Any:
        """The API's body, out of what was typed."""
        return typed.body_of(shape, entered)

    def is_to_confirm(self, body: Any) -> bool:
        """Whether the form is shown once more before it is done. Override to show what it does."""
        return False

    def landing(self, answer: Any) -> str:
        """Where to go when it is done."""
        if self.lands:
            return self.lands.format_map(_Members(answer))
        here = self.request.path
        if here.endswith("/" + NEW):
            code = answer.get("code", "") if isinstance(answer, Mapping) else ""
            return f"{here.removesuffix(NEW)}{code}/" if code else here.removesuffix(NEW)
        return here.rstrip("/").rpartition("/")[0] + "/"

    def context(self) -> dict[str, Any]:
        """What the template shows besides. Override to add to it."""
        return {}

    def _of(self) -> str:
        """The code of what it is done to, as the address has it: `ADH-MIX/1` of a revision."""
        parts = self.kwargs.values()
        return "/".join(map(str, parts)) if any(isinstance(part, str) for part in parts) else ""

    def form(
        self, values: Mapping[str, Any], refused: ShopError | dict[str, Any], *, more: str = ""
    ) -> HttpResponse:
        """The form with these values, and what is wrong at its field."""
        shape = self.shape()
        look = inputs.Look(
            labels=self.labels,
            helps=self.helps,
            first=self.first,
            leaves=self.left_out(),
            rows=self.empty_rows(),
            more=more,
            later=self.later,
            looks=self.looks,
            choices=self.choices(),
            needs=self.needed(),
        )
        made = [] if shape is None else inputs.inputs_of(shape, values, {}, look)
        problem, status = None, 200
        if isinstance(refused, ShopError):
            problem, status = problem_of(refused), refused.status
            if shape is not None and (wrong := blamed(made, refused)):
                made = inputs.inputs_of(shape, values, wrong, look)
        now = [each for each in made if each.name not in self.later]
        later = [each for each in made if each.name in self.later]
        return self.page(
            self.template,
            {
                "title": self.title,
                "of": self._of(),
                "says": self.says,
                "button": self.button or self.title,
                "inputs": now,
                "later": later,
                "is_more_open": any(each.wrong or each.has_wrong for each in later),
                "problem": problem,
                "has_field_problems": any(each.wrong or each.has_wrong for each in made),
                "key": self.request.POST.get(KEY_FIELD, ""),
                "back": self.request.path.removesuffix(NEW).rstrip("/").rpartition("/")[0] + "/"
                if not self.request.path.endswith("/" + NEW)
                else self.request.path.removesuffix(NEW),
                **self.context(),
            },
            status=status,
        )


class ChangePage(ActPage):
    """The form of a change: what the thing is now stands in it, and only what differs is sent."""

    button = "Save"
    done = "Saved."

    def initial(self) -> dict[str, Any]:
        """The thing as it is."""
        return dict(self.thing)

    @cached_property
    def thing(self) -> Mapping[str, Any]:
        """What the API says of it, asked once."""
        said: Mapping[str, Any] = ask(self.request, self.thing_address())
        return said

    def thing_address(self) -> str:
        """Where the API says what it is now: one step up."""
        return self.api_address.rstrip("/").rpartition("/")[0] + "/"

    def context(self) -> dict[str, Any]:
        """With the thing as the form shows it: somebody may change it meanwhile."""
        return {**super().context(), "shown": self.request.POST.get(SHOWN) or self._shown()}

    def _shown(self) -> str:
        initial = self.initial()
        shape = self.shape()
        names = [] if shape is None else shape.fields
        return orjson.dumps({name: initial.get(name) for name in names}).decode()

    def body(self, shape: serializers.Serializer[Any], entered: Mapping[str, Any]) -> Any:
        """Only what differs from the thing as the form showed it."""
        try:
            shown = orjson.loads(self.request.POST.get(SHOWN) or self._shown())
        except orjson.JSONDecodeError:
            shown = {}
        return typed.changed_of(shape, entered, shown if isinstance(shown, dict) else {})


class _Members(dict[str, Any]):
    """Members of an answer as words of a sentence."""

    def __init__(self, answer: Any) -> None:
        super().__init__(answer if isinstance(answer, Mapping) else {})

    def __missing__(self, name: str) -> str:
        return ""
