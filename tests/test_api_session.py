"""The day by curl in docs/api.md is run as it stands, and every answer compared with the page's."""

from __future__ import annotations

import json
import os
import re
import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from pytest_django.live_server_helper import LiveServer

from shopfloor.models import User
from shopfloor.operations import issue_token
from tests.needs import need_program

PAGE = Path(__file__).parents[1] / "docs" / "api.md"
BLOCK = re.compile(r"```sh( quiet)?\n(.*?)```\n(?:\n```json\n(.*?)```\n)?", re.DOTALL)
SET_UP = ("API=", "TOKEN=")  # the page's own address and token; the test has others
MARK = "--- next block ---"
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT[0-9:.]+Z")
DAY = re.compile(r"^\d{4}-\d\d-\d\d$")
OUR_CODE = re.compile(r"\b[LBEPRFTCXSH]-[2-9A-Z]{4,9}\b")


class Block(NamedTuple):
    """Commands of the page, and the answers it shows; None where it shows none."""

    commands: str
    answers: str | None


def blocks(text: str) -> list[Block]:
    """The page's commands, those that set up the address and the token left out."""
    found = [Block(match[2], match[3]) for match in BLOCK.finditer(text)]
    return [block for block in found if not block.commands.startswith(SET_UP)]


def run(session: list[Block], *, api: str, token: str, folder: Path) -> list[str]:
    """What each block prints, all run by one shell."""
    script = "".join(f"{block.commands}\necho '{MARK}'\n" for block in session)
    done = subprocess.run(  # noqa: S603 - the page's own commands
        [need_program("bash", package="bash"), "-u"],
        input=script,
        env={**os.environ, "API": api, "TOKEN": token, "LC_ALL": "C.UTF-8"},
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert not done.stderr.strip(), done.stderr
    return done.stdout.split(MARK + "\n")[:-1]


def answers(printed: str) -> list[Any]:
    """The JSON values printed one after the other, with codes and times taken out."""
    decoder, values, at = json.JSONDecoder(), [], 0
    text = printed.strip()
    while at < len(text):
        value, at = decoder.raw_decode(text, at)
        values.append(_masked(value))
        while at < len(text) and text[at].isspace():
            at += 1
    return values


def _masked(value: Any) -> Any:
    if isinstance(value, dict):
        return {
            name: "NUMBER" if name == "request_id" else _masked(inner)
            for name, inner in value.items()
        }
    if isinstance(value, list):
        return [_masked(inner) for inner in value]
    if isinstance(value, str):
        return DAY.sub("DAY", OUR_CODE.sub("CODE", MOMENT.sub("TIME", value)))
    return value


@pytest.mark.django_db(transaction=True)
def test_the_day_by_curl_runs_as_the_page_shows_it(live_server: LiveServer, tmp_path: Path) -> None:
    need_program("curl", package="curl")
    now = datetime.now(tz=UTC)
    owner = User.objects.create(
        username="owner", display_name="Owner", role="owner", created_at=now
    )
    token = issue_token(username="owner", name="session", by=owner, at=now).text
    assert token is not None
    session = blocks(PAGE.read_text(encoding="utf-8"))
    printed = run(session, api=f"{live_server.url}/api/v1", token=token, folder=tmp_path)
    for block, output in zip(session, printed, strict=True):
        if block.answers is None:
            assert "/problems/" not in output, block.commands + output
        else:
            assert answers(output) == answers(block.answers), block.commands
    assert (tmp_path / "box.pdf").read_bytes().startswith(b"%PDF")
