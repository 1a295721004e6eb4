"""Shops as an earlier version left them, on the database of the tests."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from tests.faults.shops import Shop, bare, copy_of, remove
from tests.shopfloor.backup.conftest import manage

DUMPS = sorted(Path(__file__).parent.glob("*.sql"))


MIGRATE = """
from django.core.management import call_command
for target in {targets}:
    call_command("migrate", *target, verbosity=0)
"""


def migrations_of(dump: Path) -> dict[str, list[str]]:
    """Applied migrations by app, in order: the first lines of a dump."""
    found: dict[str, list[str]] = {}
    for line in dump.read_text(encoding="utf-8").splitlines():
        if line.startswith("-- "):
            app, name = line.removeprefix("-- ").split()
            found.setdefault(app, []).append(name)
    return found


@pytest.fixture(scope="session", params=DUMPS, ids=lambda dump: dump.stem)
def as_released(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, test_server: str
) -> Iterator[Shop]:
    """The shop of a dump in the tables of its time; nobody changes it."""
    dump: Path = request.param
    shop = bare(folder=tmp_path_factory.mktemp("released"), server=test_server)
    targets = [(app, names[-1]) for app, names in migrations_of(dump).items()]
    answer = manage(shop, "shell", "-v", "0", "-c", MIGRATE.format(targets=targets))
    assert answer.code == 0, answer.said
    _fill(shop, dump.read_text(encoding="utf-8"))
    yield shop
    remove(shop)


@pytest.fixture
def old_shop(as_released: Shop, tmp_path: Path) -> Iterator[Shop]:
    """A copy of it for one test."""
    shop = copy_of(as_released, folder=tmp_path)
    yield shop
    remove(shop)


def _fill(shop: Shop, script: str) -> None:
    """Put rows in past the triggers; the next migrate puts those back."""
    if not shop.url:
        with closing(sqlite3.connect(shop.folder / "shop.sqlite3")) as file:
            found = file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            away = [f'DROP TRIGGER "{row[0]}";' for row in found]
            file.executescript("\n".join(["BEGIN;", *away, script, "COMMIT;"]))
        return
    with psycopg.connect(shop.url) as opened:
        drops = opened.execute(
            "SELECT format('DROP TRIGGER %I ON %s', tgname, tgrelid::regclass) FROM pg_trigger"
            " WHERE NOT tgisinternal"
        ).fetchall()
        for (drop,) in drops:
            opened.execute(drop)
        opened.execute(script.encode())
        opened.execute("SET CONSTRAINTS ALL IMMEDIATE")
        sequences = opened.execute(
            "SELECT table_name, pg_get_serial_sequence(quote_ident(table_name), column_name),"
            " column_name FROM information_schema.columns"
            " WHERE table_schema = 'public' AND is_identity = 'YES'"
        ).fetchall()
        for table, sequence, column in sequences:
            last = f'SELECT setval(%s, max("{column}")) FROM "{table}" HAVING max("{column}") > 0'  # noqa: S608
            opened.execute(last.encode(), (sequence,))
