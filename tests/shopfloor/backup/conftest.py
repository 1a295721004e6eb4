"""Shops with a folder and a database of their own, to be backed up and restored as people do."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests.faults.shops import ROOT, Shop


class Answer:
    """What a command said."""

    def __init__(self, run: subprocess.CompletedProcess[str]) -> None:
        self.code = run.returncode
        self.said = run.stdout + run.stderr


def manage(shop: Shop, *args: str | Path, **environment: str) -> Answer:
    """Run `manage.py` in the environment of a shop, to its end."""
    return Answer(
        subprocess.run(  # noqa: S603 - our own program
            [sys.executable, "manage.py", *map(str, args)],
            cwd=ROOT,
            env=shop.environment | environment,
            capture_output=True,
            text=True,
            check=False,
        )
    )


def backed_up(shop: Shop, folder: Path, *options: str) -> Path:
    """A new backup."""
    answer = manage(shop, "backup", folder, *options)
    assert answer.code == 0, answer.said
    return max(folder.glob("*.zip"), key=lambda path: path.stat().st_mtime_ns)


def contents(shop: Shop) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table but who is signed in just now."""
    if shop.url:
        with psycopg.connect(shop.url) as opened:
            found = opened.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
            return _rows(opened, [str(row[0]) for row in found])
    with closing(sqlite3.connect(shop.folder / "shop.sqlite3")) as file:
        listed = file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        return _rows(file, [str(row[0]) for row in listed])


def _rows(opened: Any, tables: list[str]) -> dict[str, list[tuple[Any, ...]]]:
    return {
        table: sorted(map(tuple, opened.execute(f'SELECT * FROM "{table}"')), key=repr)  # noqa: S608
        for table in tables
        if table not in {"django_session", "sqlite_sequence"}
    }


def change(shop: Shop, statement: str) -> None:
    """Change a shop's database behind the product's back."""
    if shop.url:
        with psycopg.connect(shop.url) as opened:
            opened.execute(statement.encode())
        return
    with closing(sqlite3.connect(shop.folder / "shop.sqlite3")) as file:
        file.execute(statement)
        file.commit()


@pytest.fixture(scope="session")
def good_backup(furnished: Shop, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of the furnished shop; nobody changes it."""
    return backed_up(furnished, tmp_path_factory.mktemp("backups"))


@pytest.fixture
def backup_with(good_backup: Path, tmp_path: Path) -> Callable[..., Path]:
    """Writes a backup like the good one, made otherwise by `rewritten`."""
    from tests.shopfloor.backup.tampering import rewritten  # noqa: PLC0415

    return lambda **changes: rewritten(good_backup, tmp_path / "other.zip", **changes)
