"""One program at a time has a shop in a file, and an older program keeps off a newer database."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

from shopfloor.running import AlreadyRunningError, running_shop
from tests.faults.shops import ROOT, Shop, served
from tests.shopfloor.backup.conftest import change, manage


@pytest.mark.only_on("sqlite")
def test_a_second_start_is_told_who_has_the_shop_and_the_first_goes_on(other_shop: Shop) -> None:
    with served(other_shop) as first:
        second = manage(other_shop, "start", "--empty", "--port", "0")
        assert second.code == 1
        assert "This shop is in use already: started at" in second.said
        assert f"http://127.0.0.1:{first.port}/, process {first.process.pid}" in second.said
        assert "End that one first" in second.said
        assert first.process.poll() is None


@pytest.mark.only_on("sqlite")
def test_what_a_killed_start_left_behind_holds_nobody_up(other_shop: Shop) -> None:
    with served(other_shop) as first:
        first.kill()
        left = (other_shop.folder / "shop.sqlite3.running").read_text(encoding="utf-8")
        assert str(first.process.pid) in left
    with served(other_shop) as again:
        assert again.process.poll() is None


@pytest.mark.only_on("sqlite")
def test_the_shop_is_had_by_one_and_then_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(connection.settings_dict, "NAME", tmp_path / "shop.sqlite3")
    code = (
        "import django; django.setup()\n"
        "from shopfloor.running import running_shop\n"
        "with running_shop() as known_as:\n"
        "    known_as('a long job'); print('mine', flush=True); input()\n"
    )
    environment = {n: v for n, v in os.environ.items() if n != "DATABASE_URL"}
    environment |= {"SHOP_DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "shopfloor.settings"}
    with subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "mine\n"
        with (
            pytest.raises(AlreadyRunningError, match=f"a long job, process {other.pid}"),
            running_shop(),
        ):
            pass
        other.send_signal(signal.SIGKILL)
        other.wait()
    with running_shop() as known_as:
        known_as("the next")
        assert (tmp_path / "shop.sqlite3.running").read_text(encoding="utf-8") == (
            f"the next, process {os.getpid()}"
        )
    assert (tmp_path / "shop.sqlite3.running").read_text(encoding="utf-8") == ""


def test_an_older_program_does_not_touch_the_database_of_a_newer_one(other_shop: Shop) -> None:
    later = "('inventory', '9999_from_later', '2026-11-01 00:00:00')"
    change(other_shop, f"INSERT INTO django_migrations (app, name, applied) VALUES {later}")  # noqa: S608
    answers = [
        manage(other_shop, "start", "--empty", "--port", "0"),
        manage(other_shop, "migrate"),
        manage(other_shop, "check", "--database", "default"),
    ]
    said = "A newer version of this program has worked on this database (it knows inventory.9999"
    assert [(each.code, said in each.said) for each in answers] == [(1, True)] * 3
    assert not (other_shop.folder / "backups").exists()
    assert manage(other_shop, "backup").code == 0
