"""The demo beside an own shop: which folder is the shop's, and when one may go there and back."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import LazySettings
from django.contrib.auth.hashers import make_password

from shopfloor import bootstrap, demo
from shopfloor.management.commands import start
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from tests.pages import browse, send, text_of

NOW = datetime(2026, 3, 2, 15, 4, 5, tzinfo=UTC)
OWNER = {"username": "olga", "display_name": "Olga", "password": "seven wet otters"}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder that SHOP_DATA_DIR names."""
    monkeypatch.setenv("SHOP_DATA_DIR", str(tmp_path))
    return tmp_path


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[demo.Shop]:
    """As `manage.py start` serves it; which shop it was to start anew with."""
    wanted: list[demo.Shop] = []
    monkeypatch.setattr(demo.SWITCH, "again", wanted.append)
    monkeypatch.setattr(demo, "Timer", lambda _, act, args: _Now(act, args))
    return wanted


class _Now:
    def __init__(self, act: Any, args: Any) -> None:
        self.start = lambda: act(*args)


@pytest.fixture
def owner(db: None) -> User:
    create_first_owner(**OWNER, at=NOW)
    return User.objects.get(username="olga")


def mark(folder: Path, said: str) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "demo.txt").write_text(said, encoding="utf-8")
    return folder


def test_a_demo_is_the_shop_only_once_it_is_full(folder: Path) -> None:
    assert bootstrap.data_dir() == folder
    mark(folder / "demo", "loading")
    assert bootstrap.data_dir() == folder
    mark(folder / "demo", "loaded")
    assert bootstrap.data_dir() == folder / "demo"
    mark(folder / "demo", "left")
    assert bootstrap.data_dir() == folder


def test_a_demo_that_was_left_is_deleted_and_one_with_work_in_it_kept_aside(folder: Path) -> None:
    mark(folder / "demo", "loaded")
    bootstrap.put_demo_away()
    assert bootstrap.is_visiting_demo()
    mark(folder / "demo", "left")
    bootstrap.put_demo_away()
    assert list(folder.iterdir()) == []
    mark(folder / "demo", "kept-20260302-150405")
    bootstrap.put_demo_away()
    assert [each.name for each in folder.iterdir()] == ["demo-kept-20260302-150405"]


def test_from_an_empty_shop_the_demo_is_filled_and_left_again(
    owner: User,
    folder: Path,
    started: list[demo.Shop],
    monkeypatch: pytest.MonkeyPatch,
    settings: LazySettings,
) -> None:
    filled = []

    class Filling:
        returncode = 0

        def __init__(self, command: list[str], **given: Any) -> None:
            filled.append(given["env"]["SHOP_DATA_DIR"])
            mark(folder / "demo", "loaded")

        def communicate(self) -> tuple[str, None]:
            return "", None

    monkeypatch.setattr(demo, "connection", type("File", (), {"vendor": "sqlite"}))
    monkeypatch.setattr("shopfloor.demo.subprocess.Popen", Filling)
    monkeypatch.setattr(demo, "Thread", lambda target, args, daemon: _Now(target, args))
    desk = browse(owner)
    assert "Fill a made-up shop" in text_of(desk.get("/"))
    assert desk.post("/demo/")["Location"] == "/demo/"
    assert filled == [str(folder / "demo")]
    said = json.loads((folder / "demo" / demo.OWNER_FILE).read_text(encoding="utf-8"))
    assert said["password"] == owner.password
    settings.SHOP_IS_DEMO = True
    assert "Leave the demo" in text_of(desk.get("/"))
    assert "Your own shop is opened" in text_of(desk.post("/demo/leave/"))
    assert (folder / "demo" / "demo.txt").read_text(encoding="utf-8") == "left"
    assert started == [demo.Shop.DEMO, demo.Shop.OWN]


def test_what_somebody_wrote_in_the_demo_is_not_deleted(
    owner: User, folder: Path, started: list[demo.Shop], settings: LazySettings
) -> None:
    settings.SHOP_IS_DEMO = True
    mark(folder / "demo", "loaded")
    desk = browse(owner)
    send(desk, "/places/new/", code="SHELF-9", name="Nine", kind="shelf")
    desk.post("/demo/leave/")
    said = (folder / "demo" / "demo.txt").read_text(encoding="utf-8")
    assert said.startswith("kept-2")
    assert started == [demo.Shop.OWN]


def test_a_demo_that_was_there_first_stays_where_it_is(
    owner: User, folder: Path, started: list[demo.Shop], settings: LazySettings
) -> None:
    settings.SHOP_IS_DEMO = True
    mark(folder, "loaded")
    browse(owner).post("/demo/leave/")
    assert bootstrap.data_dir() == folder / "own"
    assert (folder / "demo.txt").exists()
    said = json.loads((folder / "own" / demo.OWNER_FILE).read_text(encoding="utf-8"))
    assert (said["username"], said["password"]) == ("olga", owner.password)


@pytest.mark.django_db
def test_a_new_shop_takes_its_owner_over_once(folder: Path) -> None:
    said = {**OWNER, "password": make_password("seven wet otters")}
    (folder / demo.OWNER_FILE).write_text(json.dumps(said), encoding="utf-8")
    start.make_first_owner()
    person = User.objects.get()
    assert (person.username, person.display_name, person.role) == ("olga", "Olga", "owner")
    assert person.check_password("seven wet otters")
    assert list(folder.iterdir()) == []


def test_the_demo_is_for_an_empty_shop_that_start_serves(
    owner: User, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = browse(owner)
    assert desk.post("/demo/").status_code == 409
    assert desk.post("/demo/leave/").status_code == 409
    assert "manage.py start" in text_of(desk.get("/demo/"))
    assert "Fill a made-up shop" not in text_of(desk.get("/"))
    assert list(folder.iterdir()) == []
