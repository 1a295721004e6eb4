"""Pages of people, their roles and tokens, and of who came in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from django.urls import path

from shopfloor.api import people, records, tokens
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.screens import Act, ActPage, Column, ListPage, ThingPage, ask, tell, typed

_WHO = {"username": "Sign-in name", "display_name": "Name", "is_active": "May sign in"}
_SHOWN_MAX = 200


class PeoplePage(ListPage):
    """People."""

    door = people.PeopleDoor
    title = "People"
    columns = (
        Column("username", "Sign-in name", order="username"),
        Column("display_name", "Name"),
        Column("role", order="role"),
        Column("is_active", "May sign in"),
        Column("created_at", "Since", order="created_at"),
    )
    filters = ("role", "is_active")
    acts = (
        Act("Add a person", "/people/new/", is_main=True),
        Act("Ways in", "/access-events/", door=""),
        Act("Tokens", "/tokens/", door=""),
    )


class PersonPage(ThingPage):
    """One person."""

    door = people.PersonDoor
    title = "Person"
    labels: ClassVar = {**_WHO, "created_at": "Since", "blanked_at": "Names blanked"}
    acts = (
        Act("Another role", "role/"),
        Act("New password", "password/"),
        Act("May no longer sign in", "active/", {"is_active": [True]}),
        Act("May sign in again", "active/?is_active=true", {"is_active": [False]}),
        Act("Sign out everywhere", "sign-out-everywhere/"),
        Act("Ways in", "/access-events/?username={username}", door=""),
        Act("Blank the names", "blank/", {"blanked_at": [None]}),
    )

    def heading(self, thing: Mapping[str, Any]) -> str:
        """What others see."""
        return str(thing["display_name"])


class PersonForm(ActPage):
    """Who comes to work here."""

    door = people.PeopleDoor
    title = "Add a person"
    says = (
        "Owner: everything. Lead: plans, bills, holds. Bench and packer: their work. Viewer: looks."
    )
    done = "{display_name} can come in."
    lands = "/people/{username}/"
    labels = _WHO
    helps: ClassVar = {"password": "At least 12 characters. Empty: only tokens let them in."}


class RoleForm(ActPage):
    """Another role."""

    door = people.PersonRoleDoor
    title = "Another role"
    done = "{display_name} is {role} now."

    def initial(self) -> dict[str, Any]:
        """The role as it is."""
        return {"role": ask(self.request, f"people/{self.kwargs['username']}/")["role"]}


class ActiveForm(ActPage):
    """Whether a person may sign in."""

    door = people.PersonActiveDoor
    title = "Who may sign in"
    says = "Without the tick, sessions and tokens end at once. What the person did stays."
    button = "Save"
    done = "Saved."
    labels = _WHO


class PasswordForm(ActPage):
    """A password that was forgotten."""

    door = people.PersonPasswordDoor
    title = "New password"
    says = "At least 12 characters. Their sign-ins end; they change it when they are in."
    labels: ClassVar = {"end_tokens": "End their tokens as well"}


class SessionsForm(ActPage):
    """The end of a person's sign-ins."""

    door = people.PersonSessionsDoor
    title = "Sign out everywhere"
    says = "On every machine. Programs with a token go on."


class BlankForm(ActPage):
    """A person's names in the shop's records."""

    door = people.PersonBlankDoor
    title = "Blank the names"
    says = "For good: the records go on without the names. Everything else stays."


class TokensPage(ListPage):
    """Tokens of everybody's programs."""

    door = tokens.TokensDoor
    title = "Tokens"
    says = "What programs come in by. A token is shown once, when it is made."
    columns = (
        Column("name", "Used by"),
        Column("username", "Comes in as"),
        Column("hint", "Ends in"),
        Column("created_at", "Made", order="created_at"),
        Column("made_by", "By"),
        Column("ends_on", "Works until"),
        Column("last_used_on", "Last used"),
        Column("revoked_at", "Revoked"),
    )
    filters = ("username", "is_revoked")
    preset: ClassVar = {"is_revoked": "false"}
    to = "/tokens/{id}/revoke/"
    acts = (Act("Make a token", "/tokens/new/", is_main=True),)
    none = "No program comes in."


class _NewToken(ActPage):
    """A token, shown once and kept nowhere."""

    title = "Make a token"
    button = "Make it"
    labels: ClassVar = {"username": "Comes in as", "name": "What uses it", "ends_on": "Works until"}

    def post(self, request: HttpRequest, **address: object) -> HttpResponse:
        """The page with the token; never a message that is sent on, or kept."""
        shape = self.shape()
        assert shape is not None
        entered = request.POST.dict()
        try:
            answer = tell(
                request,
                self.api_address,
                typed.body_of(shape, entered),
                key=request.POST.get(KEY_FIELD, ""),
            )
        except ShopError as refused:
            return self.form(entered, refused)
        return self.page("shopfloor/token_made.html", {"made": answer, "title": self.title})


class TokenForm(_NewToken):
    """A token for somebody's program."""

    door = tokens.TokensDoor

    def choices(self) -> Mapping[str, Sequence[tuple[str, str]]]:
        """Who there is."""
        listed = ask(self.request, "people/", is_active="true", page_size=_SHOWN_MAX)["results"]
        return {"username": [(row["username"], row["display_name"]) for row in listed]}


class OwnTokenForm(_NewToken):
    """A token for a program of one's own."""

    door = tokens.MyTokensDoor


class TokenRevokeForm(ActPage):
    """The end of a token."""

    door = tokens.TokenRevokeDoor
    title = "Revoke the token"
    says = "The program that uses it is let in no longer, at once."
    lands = "/tokens/"


class OwnTokenRevokeForm(ActPage):
    """The end of a token of one's own."""

    door = tokens.MyTokenRevokeDoor
    title = "Revoke the token"
    says = TokenRevokeForm.says
    lands = "/me/"


class AccessPage(ListPage):
    """Ways in."""

    door = records.AccessEventsDoor
    title = "Ways in"
    says = "Who signed in or out or failed to, and whose password or token was changed."
    columns = (
        Column("at", "When", order="at"),
        Column("kind", "What"),
        Column("username", "Whose"),
        Column("by"),
        Column("address", "From"),
    )
    filters = ("kind", "username", "address")
    to = ""


urlpatterns = [
    path("people/", PeoplePage.as_view()),
    path("people/new/", PersonForm.as_view()),
    path("people/<str:username>/", PersonPage.as_view()),
    path("people/<str:username>/role/", RoleForm.as_view()),
    path("people/<str:username>/active/", ActiveForm.as_view()),
    path("people/<str:username>/password/", PasswordForm.as_view()),
    path("people/<str:username>/sign-out-everywhere/", SessionsForm.as_view()),
    path("people/<str:username>/blank/", BlankForm.as_view()),
    path("tokens/", TokensPage.as_view()),
    path("tokens/new/", TokenForm.as_view()),
    path("tokens/<int:token_id>/revoke/", TokenRevokeForm.as_view()),
    path("me/tokens/new/", OwnTokenForm.as_view()),
    path("me/tokens/<int:token_id>/revoke/", OwnTokenRevokeForm.as_view()),
    path("access-events/", AccessPage.as_view()),
]
