"""The programs of PostgreSQL: which are taken, and what they are told where."""

from __future__ import annotations

from pathlib import Path
from shutil import which
from types import SimpleNamespace

import pytest

from shopfloor.backup import postgresql
from shopfloor.backup.errors import BackupRefusedError
from tests.faults.shops import Shop
from tests.shopfloor.backup.conftest import backed_up

pytestmark = pytest.mark.only_on("postgresql")


def program(folder: Path, name: str, *lines: str) -> None:
    folder.mkdir(exist_ok=True)
    file = folder / name
    file.write_text("\n".join(["#!/bin/sh", *lines, ""]), encoding="utf-8")
    file.chmod(0o755)


@pytest.fixture
def nowhere_else(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The one folder that programs are looked for in; it is empty."""
    monkeypatch.setattr(postgresql, "FOLDERS", ())
    monkeypatch.setenv("PATH", str(tmp_path / "programs"))
    return tmp_path / "programs"


@pytest.mark.django_db
def test_a_missing_program_is_said_with_what_to_install(nowhere_else: Path) -> None:
    major = postgresql.server_major()
    with pytest.raises(BackupRefusedError, match="there is none on this machine") as refused:
        postgresql.program_of("pg_dump")
    assert f"apt-get install postgresql-client-{major}" in str(refused.value)


@pytest.mark.django_db
def test_a_program_of_another_major_version_is_not_taken(nowhere_else: Path) -> None:
    program(nowhere_else, "pg_dump", "echo 'pg_dump (PostgreSQL) 9.6.24'")
    with pytest.raises(BackupRefusedError, match=r"programs/pg_dump is of 9\. Install"):
        postgresql.program_of("pg_dump")


def test_no_command_line_holds_the_password(
    furnished: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    real, seen = which("pg_dump"), tmp_path / "seen"
    program(tmp_path / "programs", "pg_dump", f'echo "$@" >>{seen}', f'exec {real} "$@"')
    monkeypatch.setenv("PATH", str(tmp_path / "programs"), prepend=":")
    password = furnished.url.split(":")[2].split("@")[0]
    backed_up(furnished, tmp_path / "backups")
    told = seen.read_text(encoding="utf-8")
    assert "--snapshot=" in told
    assert furnished.url not in told
    assert f":{password}@" not in told
    assert password not in told.split()


def test_the_password_and_the_ways_of_the_connection_are_in_the_environment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    settings = {
        "HOST": "db.example",
        "PORT": 5433,
        "USER": "shop",
        "PASSWORD": "a secret",
        "NAME": "lures",
        "OPTIONS": {"sslmode": "verify-full", "sslrootcert": "/etc/ca.pem", "options": "-c x=1"},
    }
    monkeypatch.setattr(postgresql, "connection", SimpleNamespace(settings_dict=settings))
    told = postgresql.environment()
    assert {name: told[name] for name in told if name.startswith("PG")} == {
        "PGHOST": "db.example",
        "PGPORT": "5433",
        "PGUSER": "shop",
        "PGPASSWORD": "a secret",
        "PGDATABASE": "lures",
        "PGSSLMODE": "verify-full",
        "PGSSLROOTCERT": "/etc/ca.pem",
        "PGCLIENTENCODING": "UTF8",
    }
    assert postgresql.environment("other")["PGDATABASE"] == "other"
