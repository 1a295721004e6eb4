"""`manage.py token NAME`."""

from __future__ import annotations

import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

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


@pytest.mark.parametrize("verb", [["token", "owner"], ["verify"], ["import", "."]])
def test_where_no_shop_stands_a_command_says_so_and_leaves_nothing(
    tmp_path: Path, verb: list[str]
) -> None:
    empty = tmp_path / "shop"
    empty.mkdir()
    environment = {**os.environ, "SHOP_DATA_DIR": str(empty)}
    environment.pop("DATABASE_URL", None)
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "manage.py", *verb],
        cwd=Path(__file__).parents[2],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode != 0
    assert "manage.py start" in done.stderr
    assert not list(empty.glob("*.sqlite3"))
