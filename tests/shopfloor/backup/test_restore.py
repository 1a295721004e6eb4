"""`manage.py restore` and `backup --check`: what is refused, what is replaced, what is proved."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.db import connection

from shopfloor.backup.archive import opened_archive
from tests.faults.shops import ROOT, Shop, served
from tests.shopfloor.backup.conftest import backed_up, change, contents, manage


def test_a_shop_that_stands_is_replaced_when_asked_and_backed_up_first(
    other_shop: Shop, bare_shop: Shop, good_backup: Path
) -> None:
    change(other_shop, "UPDATE shopfloor_user SET display_name = 'Somebody else'")
    stood = contents(other_shop)
    refused = manage(other_shop, "restore", good_backup)
    assert (refused.code, "give --replace" in refused.said) == (1, True)
    assert contents(other_shop) == stood

    replaced = manage(other_shop, "restore", good_backup, "--replace")
    assert replaced.code == 0, replaced.said
    assert contents(other_shop) != stood
    (saved,) = (other_shop.folder / "backups").iterdir()
    assert saved.name.startswith("before-restore-")
    assert str(saved) in replaced.said
    assert manage(bare_shop, "restore", saved).code == 0
    assert contents(bare_shop) == stood


def test_a_refused_backup_leaves_the_new_machine_bare(
    bare_shop: Shop, good_backup: Path, tmp_path: Path
) -> None:
    short = tmp_path / "short.zip"
    short.write_bytes(good_backup.read_bytes()[:-100])
    refused = manage(bare_shop, "restore", short)
    assert (refused.code, "only the beginning of one" in refused.said) == (1, True)
    assert "There is no shop here yet" in manage(bare_shop, "verify").said


def test_a_backup_of_a_newer_program_is_refused(
    bare_shop: Shop, backup_with: Callable[..., Path]
) -> None:
    def migrated(facts: Any) -> None:
        facts["state"]["migrations"]["inventory"].append("9999_from_later")

    refused = manage(bare_shop, "restore", backup_with(manifest=migrated))
    assert refused.code == 1
    assert "a newer version of this program (it knows inventory.9999_from_later)" in refused.said


def test_a_shop_that_is_running_is_not_replaced(other_shop: Shop, good_backup: Path) -> None:
    stood = contents(other_shop)
    with served(other_shop):
        assert manage(other_shop, "backup").code == 0
        refused = manage(other_shop, "restore", good_backup, "--replace")
    assert refused.code == 1
    assert "in use already" in refused.said or "The shop is running" in refused.said
    assert contents(other_shop) == stood


@pytest.mark.only_on("sqlite")
def test_a_program_that_has_the_database_file_open_is_noticed(
    other_shop: Shop, good_backup: Path
) -> None:
    with closing(sqlite3.connect(other_shop.folder / "shop.sqlite3")) as other:
        other.execute("SELECT COUNT(*) FROM inventory_lot").fetchone()
        refused = manage(other_shop, "restore", good_backup, "--replace")
    assert (refused.code, "something has its database open" in refused.said) == (1, True)


@pytest.mark.only_on("postgresql")
def test_a_database_of_somebody_else_is_not_touched(bare_shop: Shop, good_backup: Path) -> None:
    change(bare_shop, "CREATE TABLE recipes (id int)")
    refused = manage(bare_shop, "restore", good_backup)
    assert (refused.code, "no shop's (recipes)" in refused.said) == (1, True)
    assert list(contents(bare_shop)) == ["recipes"]


@pytest.mark.only_on("postgresql")
def test_a_dump_that_breaks_off_in_the_middle_changes_nothing(
    other_shop: Shop, good_backup: Path, backup_with: Callable[..., Path], tmp_path: Path
) -> None:
    dump = tmp_path / "dump"
    with opened_archive(good_backup) as archive, dump.open("wb") as file:
        archive.extract(archive.database_part, file)
    stood = contents(other_shop)
    broken = backup_with(parts={"database.pgdump": dump.read_bytes()[:-2000]})
    refused = manage(other_shop, "restore", broken, "--replace")
    assert (refused.code, "the database is as it was" in refused.said) == (1, True)
    assert contents(other_shop) == stood


@pytest.mark.only_on("postgresql")
def test_a_dump_that_the_server_refuses_halfway_changes_nothing(
    other_shop: Shop, good_backup: Path
) -> None:
    change(other_shop, "ALTER INDEX inventory_lot_pkey RENAME TO lot_key")
    change(other_shop, "CREATE TABLE inventory_lot_pkey (id int)")  # the name is taken
    stood = contents(other_shop)
    refused = manage(other_shop, "restore", good_backup, "--replace")
    assert refused.code == 1
    assert "the database is as it was" in refused.said
    assert '"inventory_lot_pkey" already exists' in refused.said
    assert contents(other_shop) == stood


def test_a_damaged_shop_is_moved_aside_by_hand_and_then_restored(
    other_shop: Shop, bare_shop: Shop, good_backup: Path
) -> None:
    if connection.vendor == "sqlite":
        (other_shop.folder / "shop.sqlite3").write_bytes(b"not a database any more" * 1000)
        how = "Move"
    else:
        change(other_shop, "DROP TABLE shopfloor_requestkey")
        how = "Name an empty"
    refused = manage(other_shop, "restore", good_backup, "--replace")
    assert (refused.code, how in refused.said) == (1, True)
    assert manage(bare_shop, "restore", good_backup).code == 0


def test_a_backup_is_proved_by_restoring_it_elsewhere(furnished: Shop, good_backup: Path) -> None:
    before = contents(furnished)
    proved = manage(furnished, "backup", "--check", good_backup.parent)
    assert proved.code == 0, proved.said
    assert "holds   On hand and value of each lot equal the sum of its movements" in proved.said
    assert "restores to a shop in which everything holds" in proved.said
    assert contents(furnished) == before
    assert databases_left(furnished) == []


def test_a_backup_of_books_that_do_not_add_up_is_found_out(
    other_shop: Shop, tmp_path: Path
) -> None:
    change(other_shop, "UPDATE inventory_lot SET on_hand_base = on_hand_base + 1")
    proved = manage(other_shop, "backup", "--check", backed_up(other_shop, tmp_path))
    assert proved.code == 1
    assert "This backup does not hold up: verify of the restored shop says" in proved.said
    assert "DIFFERS On hand and value of each lot" in proved.said
    assert databases_left(other_shop) == []


@pytest.mark.only_on("postgresql")
@pytest.mark.parametrize("verb", ["backup", "restore", "start", "verify"])
def test_a_database_that_is_away_is_said_in_words(
    verb: str, tmp_path: Path, good_backup: Path
) -> None:
    shop = Shop(folder=tmp_path, url="postgres://nobody:pw@127.0.0.1:1/none")
    options = {"restore": [str(good_backup)], "start": ["--port", "0", "--empty"]}
    answer = manage(shop, verb, *options.get(verb, []))
    assert answer.code == 1
    assert "The database cannot be read: connection failed" in answer.said
    assert "Traceback" not in answer.said
    assert "pw" not in answer.said.split()


def databases_left(shop: Shop) -> list[str]:
    if not shop.url:
        return []
    with psycopg.connect(shop.url) as opened:
        name = shop.url.rpartition("/")[2]
        found = opened.execute(
            "SELECT datname FROM pg_database WHERE datname LIKE %s", (f"{name}_check_%",)
        )
        return [str(row[0]) for row in found]


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("steps", range(4))
def test_a_restore_that_is_killed_leaves_the_one_shop_or_the_other(
    steps: int, other_shop: Shop, good_backup: Path
) -> None:
    """Killed before the database, between it and the uploads, and after both."""
    change(other_shop, "UPDATE shopfloor_user SET display_name = 'Before'")
    code = f"""
import os, django; django.setup()
from django.core.management import call_command
moves, plain = iter(range({steps})), os.replace
def replace(*args):
    if str(args[1]).endswith(".zip"):
        return plain(*args)
    if next(moves, None) is None:
        os.kill(os.getpid(), {int(signal.SIGKILL)})
    plain(*args)
os.replace = replace
call_command("restore", {str(good_backup)!r}, replace=True)
"""
    subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", code], cwd=ROOT, env=other_shop.environment, check=False
    )
    people = {str(row) for row in contents(other_shop)["shopfloor_user"]}
    assert ("Before" in str(people)) == (steps == 0)
    assert manage(other_shop, "verify").code == 0
