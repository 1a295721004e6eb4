"""`manage.py start`: the port, the first sign-in, the demo, and the whole of it once."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from http.cookiejar import CookieJar
from pathlib import Path
from typing import IO
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, build_opener

import pytest
from django.core.management import CommandError, call_command
from django.test import override_settings
from django.utils import timezone

from inventory.catalog.operations import create_item
from inventory.catalog.steps import ItemFields
from shopfloor.bootstrap import ROOT, demo_marker
from shopfloor.management.commands import start
from shopfloor.models import User
from shopfloor.operations import set_password


@pytest.fixture
def data_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own."""
    monkeypatch.setenv("SHOP_DATA_DIR", str(tmp_path))
    return tmp_path


@pytest.fixture
def taken_port() -> Iterator[int]:
    """A port that another program listens on."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_a_port_in_use_is_said_before_any_work_is_done(taken_port: int) -> None:
    with pytest.raises(CommandError, match=f"Port {taken_port} is in use.*--port"):
        call_command("start", port=taken_port)


def test_a_port_that_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(CommandError, match="Port 70000 cannot be used"):
        call_command("start", port=70000)


def test_an_empty_shop_is_not_made_in_the_folder_of_the_demo() -> None:
    with (
        override_settings(SHOP_IS_DEMO=True),
        pytest.raises(CommandError, match="holds the demo"),
    ):
        call_command("start", port=0, empty=True)


@pytest.mark.django_db
def test_the_first_owner_gets_a_password_that_is_told_until_it_is_changed(data_dir: Path) -> None:
    start.make_first_owner()
    told = start.first_password()
    owner = User.objects.get()
    assert told is not None
    assert owner.role == "owner"
    assert owner.check_password(told)
    assert start.first_password() == told

    set_password(username=owner.username, password="quite-another-one", by=owner, at=timezone.now())
    assert start.first_password() is None
    assert not start.first_sign_in_file().exists()


@pytest.mark.django_db
def test_a_demo_that_broke_off_is_not_taken_for_a_whole_one(data_dir: Path) -> None:
    demo_marker().write_text("loading", encoding="utf-8")
    start.make_first_owner()
    hooks: ItemFields = {
        "name": "Hooks",
        "kind": "hook",
        "dimension": "count",
        "display_unit": "each",
    }
    create_item(code="HOOK", fields=hooks, by=User.objects.get(), at=timezone.now())
    with (
        override_settings(SHOP_IS_DEMO=True),
        pytest.raises(CommandError, match="broke off halfway"),
    ):
        start.Command().load_demo(is_empty_wanted=False)


@pytest.mark.django_db
def test_a_shop_with_people_gets_no_second_first_owner(data_dir: Path) -> None:
    start.make_first_owner()
    told = start.first_password()
    start.make_first_owner()
    assert User.objects.count() == 1
    assert start.first_password() == told


def test_a_first_password_is_random_and_easy_to_read_out() -> None:
    first, second = start.new_password(), start.new_password()
    assert first != second
    assert re.fullmatch(r"([a-z2-9]{4}-){3}[a-z2-9]{4}", first)


def test_the_names_for_the_network_are_none_that_only_this_machine_knows() -> None:
    names = start.lan_names()
    assert names
    assert "0.0.0.0" not in names  # noqa: S104
    assert not {name for name in names if name.startswith("127.")}


class Shop:
    """A shop started as a person would start it."""

    def __init__(self, stdout: IO[str]) -> None:
        self.said = "".join(_until(iter(stdout.readline, ""), "Ctrl-C ends it."))
        match = re.search(r"http://127\.0\.0\.1:\d+", self.said)
        assert match is not None, self.said
        self.address = match[0]
        match = re.search(r"with the password (\S+)", self.said)
        assert match is not None, self.said
        self.password = match[1]
        self.browser: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))

    def read(self, path: str, **form: str) -> tuple[str, str]:
        """Address arrived at and page, after following where it leads."""
        data = urlencode(form).encode() if form else None
        with self.browser.open(self.address + path, data=data, timeout=20) as answer:
            return answer.url, answer.read().decode()


def _until(lines: Iterator[str], last: str) -> Iterator[str]:
    for line in lines:
        yield line
        if line.strip() == last:
            return


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A new, empty shop on a free port."""
    env = {n: v for n, v in os.environ.items() if not n.startswith(("SHOP_", "DATABASE_"))}
    command = [sys.executable, "-u", str(ROOT / "manage.py"), "start", "--empty", "--port", "0"]
    with subprocess.Popen(  # noqa: S603
        command,
        env={**env, "SHOP_DATA_DIR": str(tmp_path / "a shop")},
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        try:
            yield Shop(process.stdout)
        finally:
            process.terminate()


def test_a_started_shop_is_healthy_and_lets_its_owner_in_with_what_it_said(shop: Shop) -> None:
    assert shop.read("/health/")[1] == '{"status": "ok"}'
    form = shop.read("/")[1]
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', form)
    assert token is not None
    url, page = shop.read(
        "/sign-in/?next=/",
        username="owner",
        password=shop.password,
        csrfmiddlewaretoken=token[1],
    )
    assert url == f"{shop.address}/"
    assert "Owner" in page
