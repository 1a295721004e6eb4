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
    for name in ("DATABASE_URL", "SHOP_PRODUCTION"):
        monkeypatch.delenv(name, raising=False)
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


def mark(folder: Path, said: str, name: str = "demo.txt") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(said, encoding="utf-8")
    return folder


def beside(folder: Path, said: str) -> Path:
    """A demo beside the shop of the folder, filled, and how far that is."""
    mark(folder / "demo", "loaded")
    return mark(folder / "demo", said, "beside.txt")


def test_a_demo_is_the_shop_only_while_it_is_looked_at(folder: Path) -> None:
    assert bootstrap.data_dir() == folder
    for said in ("filling", "left", "kept-20260302-150405"):
        beside(folder, said)
        assert bootstrap.data_dir() == folder
    beside(folder, "visited")
    assert bootstrap.data_dir() == folder / "demo"


@pytest.mark.parametrize("name", ["DATABASE_URL", "SHOP_PRODUCTION"])
def test_no_folder_leads_away_from_a_shop_on_a_server(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    mark(folder, "loaded")
    (folder / "own").mkdir()
    assert bootstrap.data_dir() == folder / "own"
    beside(folder / "own", "visited")
    assert bootstrap.data_dir() == folder / "own" / "demo"
    monkeypatch.setenv(name, "1")
    assert bootstrap.data_dir() == folder


def test_folders_that_others_made_lead_nowhere(folder: Path) -> None:
    """A shop whose folder lies in this one's, by whatever name."""
    mark(folder / "own", "loaded")
    mark(folder / "demo", "loaded")
    assert bootstrap.data_dir() == folder
    bootstrap.put_demo_away()
    assert {each.name for each in folder.iterdir()} == {"own", "demo"}


def test_an_own_shop_that_has_no_tables_yet_is_not_made_the_demo(folder: Path) -> None:
    mark(folder, "loaded")
    (folder / "own").mkdir()
    bootstrap.mark_demo([])
    assert list((folder / "own").iterdir()) == []


def test_a_demo_that_was_left_is_deleted_and_one_with_work_in_it_kept_aside(folder: Path) -> None:
    beside(folder, "visited")
    bootstrap.put_demo_away()
    assert bootstrap.is_visiting_demo()
    beside(folder, "left")
    bootstrap.put_demo_away()
    assert list(folder.iterdir()) == []
    beside(folder, "kept-20260302-150405")
    bootstrap.put_demo_away()
    assert [each.name for each in folder.iterdir()] == ["demo-kept-20260302-150405"]


def test_a_demo_whose_files_are_held_is_put_away_another_time(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def held(*_: object) -> None:
        raise PermissionError

    with monkeypatch.context() as patch:
        patch.setattr("shopfloor.bootstrap.shutil.rmtree", held)
        beside(folder, "left")
        bootstrap.put_demo_away()
        assert bootstrap.data_dir() == folder
    bootstrap.put_demo_away()
    assert list(folder.iterdir()) == []


@pytest.fixture
def filled(folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The demo is full at once; the folders that were filled."""
    folders: list[str] = []

    class Filling:
        returncode = 0

        def __init__(self, command: list[str], **given: Any) -> None:
            folders.append(given["env"]["SHOP_DATA_DIR"])
            mark(folder / "demo", "loaded")

        def communicate(self) -> tuple[str, None]:
            return "", None

    monkeypatch.setattr("shopfloor.demo.subprocess.Popen", Filling)
    monkeypatch.setattr(demo, "Thread", lambda target, args, daemon: _Now(target, args))
    return folders


def test_a_folder_of_that_name_that_is_no_demo_is_never_touched(
    owner: User, folder: Path, started: list[demo.Shop], filled: list[str]
) -> None:
    shop = mark(folder / "demo", "somebody's", "shop.sqlite3")
    refused = browse(owner).post("/demo/")
    assert refused.status_code == 409
    assert "is in the way" in text_of(refused)
    assert (shop / "shop.sqlite3").read_text(encoding="utf-8") == "somebody's"
    assert (started, filled) == ([], [])


def test_who_entered_something_meanwhile_stays_in_their_shop(
    owner: User,
    folder: Path,
    started: list[demo.Shop],
    filled: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(demo.SWITCH, "trouble", "")  # put back afterwards
    words = ["Something stands in this shop.", ""]
    monkeypatch.setattr(demo, "why_not", words.pop)
    demo.fill(by=owner)
    assert filled == [str(folder / "demo")]
    assert (started, demo.SWITCH.trouble) == ([], "Something stands in this shop.")
    assert bootstrap.data_dir() == folder


def test_from_an_empty_shop_the_demo_is_filled_and_left_again(
    owner: User,
    folder: Path,
    started: list[demo.Shop],
    filled: list[str],
    settings: LazySettings,
) -> None:
    desk = browse(owner)
    assert "Fill a made-up shop" in text_of(desk.get("/"))
    assert desk.post("/demo/")["Location"] == "/demo/"
    assert filled == [str(folder / "demo")]
    said = json.loads((folder / "demo" / demo.OWNER_FILE).read_text(encoding="utf-8"))
    assert said["password"] == owner.password
    settings.SHOP_IS_DEMO = True
    assert "Leave the demo" in text_of(desk.get("/"))
    assert "Your own shop is opened" in text_of(desk.post("/demo/leave/"))
    assert bootstrap.beside_marker().read_text(encoding="utf-8") == "left"
    assert started == [demo.Shop.DEMO, demo.Shop.OWN]


def test_what_somebody_wrote_in_the_demo_is_not_deleted(
    owner: User, folder: Path, started: list[demo.Shop], settings: LazySettings
) -> None:
    settings.SHOP_IS_DEMO = True
    beside(folder, "visited")
    desk = browse(owner)
    send(desk, "/places/new/", code="SHELF-9", name="Nine", kind="shelf")
    desk.post("/demo/leave/")
    assert bootstrap.beside_marker().read_text(encoding="utf-8").startswith("kept-2")
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
