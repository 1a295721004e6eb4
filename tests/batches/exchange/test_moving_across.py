"""A shop moves from PostgreSQL to SQLite and back, and is the same shop."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from batches.exchange.rules.moving_about import ABOUT_FILE
from shopfloor.bootstrap import ROOT
from shopfloor.models import User
from tests.batches.exchange.moving import (
    answers,
    contents,
    emptied,
    everything_happens,
    exported,
    taken_in,
)


def on_sqlite(folder: Path, *command: str) -> str:
    """Run a command of a shop on SQLite in a folder of its own."""
    others = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    own = {"SHOP_DATA_DIR": str(folder), "SHOP_TIME_ZONE": "America/Chicago"}
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, str(ROOT / "manage.py"), *command],
        env={**others, **own},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def said_migrated(folder: Path) -> list[str]:
    migrations: list[str] = json.loads((folder / ABOUT_FILE).read_text())["migrations"]
    return migrations


def say_migrated(folder: Path, migrations: list[str]) -> None:
    """The tables of a test may have been made without migrations; they are the same ones."""
    about = folder / ABOUT_FILE
    about.write_text(json.dumps({**json.loads(about.read_text()), "migrations": migrations}))


@pytest.mark.only_on("postgresql")
@pytest.mark.django_db(transaction=True)
def test_a_shop_that_went_to_sqlite_and_back_is_the_same(
    small_shop: None, owner: User, bench: User, tmp_path: Path
) -> None:
    everything_happens(owner, bench)
    before = answers()
    first = exported(tmp_path / "first")
    on_sqlite(tmp_path / "there", "migrate")
    on_sqlite(tmp_path / "there", "export", str(tmp_path / "bare"))
    migrations = said_migrated(tmp_path / "first")
    say_migrated(tmp_path / "first", said_migrated(tmp_path / "bare"))
    on_sqlite(tmp_path / "there", "import", str(tmp_path / "first"))
    assert "comes out the same" in on_sqlite(tmp_path / "there", "verify")
    on_sqlite(tmp_path / "there", "export", str(tmp_path / "second"))
    second = contents(tmp_path / "second")
    assert {**second, ABOUT_FILE: b""} == {**first, ABOUT_FILE: b""}

    say_migrated(tmp_path / "second", migrations)
    emptied()
    taken_in(tmp_path / "second")
    assert answers() == before
    assert exported(tmp_path / "third") == first
