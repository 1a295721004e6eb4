"""Proves a backup by restoring it into a place of its own and running `verify` there."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final
from urllib.parse import quote, urlsplit, urlunsplit

from django.db import connection

from shopfloor.backup import postgresql, sqlite
from shopfloor.backup.archive import Archive, opened_archive
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.fitness import refuse_different, refuse_unfit
from shopfloor.backup.places import refuse_too_little_space
from shopfloor.backup.restoring import extract
from shopfloor.bootstrap import ROOT

SQLITE_FILE: Final = "shop.sqlite3"


def prove_backup(file: Path) -> list[str]:
    """Restore a backup elsewhere, bring it up to date, and answer what `verify` says of it.

    Raises:
        BackupRefusedError: it is not whole, does not fit, or verify found a difference.
    """
    with opened_archive(file) as archive, TemporaryDirectory(prefix="backup-check-") as folder:
        archive.prove()
        refuse_unfit(archive.manifest)
        refuse_too_little_space(Path(folder), needed_bytes=2 * archive.size_bytes())
        with _restored_aside(archive, Path(folder)) as environment:
            _manage("migrate", "--verbosity=0", environment=environment)
            return _manage("verify", environment=environment)


@contextmanager
def _restored_aside(archive: Archive, folder: Path) -> Iterator[dict[str, str]]:
    """The environment in which `manage.py` finds the restored database."""
    names = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    names["SHOP_DATA_DIR"] = str(folder)
    expected = archive.manifest.state
    if connection.vendor == "sqlite":
        extract(archive, archive.database_part, folder / SQLITE_FILE)
        refuse_different(expected=expected, found=sqlite.copied_state(folder / SQLITE_FILE))
        yield names
        return
    dump = folder / archive.database_part
    extract(archive, archive.database_part, dump)
    with postgresql.scratch_database() as database:
        postgresql.load(dump, tables_away=[], database=database)
        refuse_different(expected=expected, found=postgresql.loaded_state(database))
        url = urlsplit(os.environ["DATABASE_URL"])
        yield {**names, "DATABASE_URL": urlunsplit(url._replace(path=f"/{quote(database)}"))}


def _manage(*args: str, environment: dict[str, str]) -> list[str]:
    run = subprocess.run(  # noqa: S603 - ourselves
        [sys.executable, str(ROOT / "manage.py"), *args],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if run.returncode != 0:
        said = f"{run.stdout}\n{run.stderr}".strip()
        raise BackupRefusedError(
            f"This backup does not hold up: {args[0]} of the restored shop says:\n{said}"
        )
    return run.stdout.splitlines()
