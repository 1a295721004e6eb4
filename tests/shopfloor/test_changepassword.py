"""`manage.py changepassword NAME`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from shopfloor.models import Change, Token, User
from shopfloor.operations import issue_token
from tests.shopfloor.conftest import MONDAY, PASSWORD

NEW = "nine dry herons"
Typed = Callable[..., None]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Typed:
    """What the person types at the terminal, one line a question."""

    def type_(*lines: str) -> None:
        given: Iterator[str] = iter(lines)
        monkeypatch.setattr(
            "shopfloor.management.commands.changepassword.getpass", lambda prompt: next(given)
        )

    return type_


def test_the_new_password_works_and_the_audit_has_it(owner: User, typed: Typed) -> None:
    typed(NEW, NEW)
    out = StringIO()
    call_command("changepassword", "Olga", stdout=out)
    owner.refresh_from_db()
    assert owner.check_password(NEW)
    assert Change.objects.latest("pk").after == {"password": "changed"}
    assert "olga has a new password" in out.getvalue()


@pytest.mark.parametrize(
    ("lines", "said"),
    [((NEW, "other"), "not the same"), (("short", "short"), "too short"), ((NEW, NEW), None)],
)
def test_what_cannot_be_a_password_changes_nothing(
    owner: User, typed: Typed, lines: tuple[str, str], said: str | None
) -> None:
    typed(*lines)
    name = "olga" if said else "nobody"
    with pytest.raises(CommandError, match=said or "Nobody has that name"):
        call_command("changepassword", name)
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)


@pytest.mark.parametrize(("end_tokens", "left"), [(False, 1), (True, 0)])
def test_tokens_end_if_wanted(owner: User, typed: Typed, *, end_tokens: bool, left: int) -> None:
    issue_token(username="olga", name="scale", by=owner, at=MONDAY)
    typed(NEW, NEW)
    call_command("changepassword", "olga", end_tokens=end_tokens, stdout=StringIO())
    assert Token.objects.filter(revoked_at=None).count() == left
