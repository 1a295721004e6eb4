"""`manage.py token NAME`."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from rest_framework.test import APIClient

from shopfloor.models import User


def test_the_command_prints_a_token_that_lets_in_and_nothing_else(owner: User) -> None:
    out = StringIO()
    call_command("token", "olga", stdout=out)
    text = out.getvalue()
    assert text == text.strip() + "\n"
    answer = APIClient().get("/api/v1/me/", headers={"Authorization": f"Token {text.strip()}"})
    assert answer.json()["username"] == "olga"


def test_the_command_names_the_person_it_cannot_find(db: None) -> None:
    with pytest.raises(CommandError, match="nobody-here: Nobody has that name"):
        call_command("token", "nobody-here")
