"""A shop of every released version comes up to date with all it holds."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from http.client import HTTPConnection
from importlib import import_module
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.db import migrations

from tests.faults.shops import ROOT, Shop, served
from tests.shopfloor.backup.conftest import manage
from tests.upgrades.conftest import DUMPS, migrations_of
from tests.upgrades.dump import FLOORS, PASSWORD

# Work on rows, which empty tables do not try.
MOVES_DATA = (migrations.RunPython, migrations.RunSQL)

Rows = dict[str, list[tuple[Any, ...]]]


def kept(shop: Shop, columns: dict[str, list[str]]) -> Rows:
    """Those columns of every row of our tables, in the order of their first."""
    statements = {
        table: f'SELECT {", ".join(names)} FROM "{table}" ORDER BY 1'  # noqa: S608
        for table, names in columns.items()
    }
    if shop.url:
        with psycopg.connect(shop.url) as opened:
            return {t: opened.execute(sql.encode()).fetchall() for t, sql in statements.items()}
    with closing(sqlite3.connect(shop.folder / "shop.sqlite3")) as file:
        return {table: file.execute(sql).fetchall() for table, sql in statements.items()}


def columns_of(dump: Path) -> dict[str, list[str]]:
    """Columns by table, as a dump writes them."""
    found = {}
    for line in dump.read_text(encoding="utf-8").splitlines():
        if line.startswith("INSERT INTO"):
            _, table, rest = line.split('"', 2)
            found[table] = rest[2 : rest.index(")")].split(", ")
    return found


def own_migrations() -> Iterator[tuple[str, str, Any]]:
    for app in FLOORS:
        for path in sorted((ROOT / app / "migrations").glob("[0-9]*.py")):
            yield app, path.stem, import_module(f"{app}.migrations.{path.stem}").Migration


@pytest.fixture
def columns(request: pytest.FixtureRequest) -> dict[str, list[str]]:
    """Those of the dump at hand."""
    return columns_of(request.node.callspec.params["as_released"])


def test_start_backs_an_earlier_shop_up_and_updates_it_with_every_row_and_person_it_had(
    old_shop: Shop, bare_shop: Shop, columns: dict[str, list[str]]
) -> None:
    before = kept(old_shop, columns)
    assert sum(map(len, before.values())) > 200
    said = manage(old_shop, "shell", "-v", "0", "-c", SIGN_IN)
    assert json.loads(said.said.splitlines()[-1]) == {"olga": True, "waiting": 0, "backups": 1}
    (saved,) = (old_shop.folder / "backups").iterdir()
    assert saved.name.startswith("before-update-")
    assert saved.name in said.said
    assert kept(old_shop, columns) == before
    verified = manage(old_shop, "verify")
    assert verified.code == 0, verified.said

    with served(old_shop) as server:  # a second time nothing waits
        connection = HTTPConnection("127.0.0.1", server.port, timeout=20)
        connection.request("GET", "/health/")
        assert connection.getresponse().status == 200
        connection.close()
    assert list((old_shop.folder / "backups").iterdir()) == [saved]

    restored = manage(bare_shop, "restore", saved)
    assert restored.code == 0, restored.said
    assert "Everything that can be computed twice comes out the same." in restored.said
    assert kept(bare_shop, columns) == before


# What `start` does before it serves, and whether a person of the earlier version is known.
SIGN_IN = f"""
import json
from shopfloor.management.commands.start import Command
from shopfloor.models import User
from shopfloor.backup.places import backups_folder
from shopfloor.schema import waiting_migrations
Command().bring_up_to_date(has_backup=True)
known = {{u.username: u.check_password({PASSWORD!r}) for u in User.objects.filter(is_active=True)}}
waiting = len(waiting_migrations())
print(json.dumps(known | {{"waiting": waiting, "backups": len(list(backups_folder().iterdir()))}}))
"""


@pytest.mark.only_on("sqlite")  # what stands in the way does so of any backup
def test_an_update_does_not_begin_without_the_backup_unless_it_is_said(
    old_shop: Shop, columns: dict[str, list[str]]
) -> None:
    (old_shop.folder / "backups").write_text("in the way", encoding="utf-8")
    refused = manage(old_shop, "start", "--port", "0", "--empty")
    assert refused.code == 1
    assert "No backup was made" in refused.said
    assert "start --without-backup" in refused.said
    assert manage(old_shop, "migrate", "--check").code == 1
    go_on = "from shopfloor.management.commands.start import Command as C; "
    gone_on = manage(
        old_shop, "shell", "-v", "0", "-c", f"{go_on}C().bring_up_to_date(has_backup=False)"
    )
    assert gone_on.code == 0, gone_on.said
    assert manage(old_shop, "migrate", "--check").code == 0


def test_every_migration_that_moves_data_meets_rows_of_the_version_before_it() -> None:
    """Add a dump of the version before it: `python -m tests.upgrades.dump`."""
    states = [migrations_of(dump) for dump in DUMPS]
    missing = []
    for app, name, migration in own_migrations():
        if not any(isinstance(each, MOVES_DATA) for each in migration.operations):
            continue
        before = sorted(other for a, other, _ in own_migrations() if a == app and other < name)
        if not any(state.get(app, []) == before for state in states):
            missing.append(f"{app}.{name}: no dump in tests/upgrades/ stands right before it")
    assert missing == []


def test_every_table_of_the_first_version_has_rows_in_its_dump() -> None:
    dumped = set(columns_of(DUMPS[0]))
    made = {
        f"{app}_{operation.name.lower()}"
        for app, name, migration in own_migrations()
        if name == "0001_initial"
        for operation in migration.operations
        if isinstance(operation, migrations.CreateModel)
    }
    assert made == dumped
