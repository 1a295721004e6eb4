"""Where the shops stand that are measured: made once and kept, and opened as throw-away copies."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django
from django.db import connection, connections

ROOT = Path(__file__).resolve().parents[2]


def set_up_django(*, folder: Path, database: str) -> None:
    """Set up Django for a database that `open_shop` will name.

    Args:
        folder: Where SQLite files are kept.
        database: `sqlite`, or `postgresql` on the server of DATABASE_URL.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if database == "sqlite":
        os.environ["DATABASE_URL"] = f"sqlite:///{folder / 'none.sqlite3'}"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
    os.environ["SHOP_DATA_DIR"] = str(folder)
    os.environ["SHOP_TIME_ZONE"] = "America/Chicago"
    django.setup()


@contextmanager
def open_shop(*, years: int) -> Iterator[None]:
    """Work in a copy of a shop of so many years; what is written is gone at the end."""
    outside = connection.settings_dict["NAME"]
    kept = _kept_shop(years=years)
    work = f"{kept.removesuffix('.sqlite3')}_work_{os.getpid()}"
    if connection.vendor == "sqlite":
        work += ".sqlite3"
        shutil.copyfile(kept, work)
    else:
        _on_the_server(f'CREATE DATABASE "{work}" TEMPLATE "{kept}"')
    _name(work)
    try:
        yield
    finally:
        _name(outside)
        _remove(work)


def _kept_shop(*, years: int) -> str:
    """The file or database of such a shop, made if it is not there yet."""
    name = f"shop_bench_{years}_{_digest()}"
    if connection.vendor == "sqlite":
        name = str(Path(os.environ["SHOP_DATA_DIR"], f"{name}.sqlite3"))
    if not _is_there(name):
        building = name.replace("shop_bench", "shop_bench_unfinished")
        _remove(building)
        if connection.vendor == "postgresql":
            _on_the_server(f'CREATE DATABASE "{building}"')
        _name(building)
        _fill(years=years)
        connections.close_all()
        if connection.vendor == "sqlite":
            Path(building).rename(name)
        else:
            _on_the_server(f'ALTER DATABASE "{building}" RENAME TO "{name}"')
    return name


def _fill(*, years: int) -> None:
    from django.core.management import call_command  # noqa: PLC0415 - Django is set up by now

    from tests.bench.past import WORKDAYS_A_YEAR, fill, today  # noqa: PLC0415 - as above

    call_command("migrate", verbosity=0)
    if years:
        extent = fill(workdays=years * WORKDAYS_A_YEAR, last_day=today())
        print(f"Made a shop of {years} years: {extent}")  # noqa: T201 - the person who waits


def _digest() -> str:
    """Changes with the tables and with what fills them."""
    sources = sorted([*ROOT.glob("*/migrations/*.py"), *ROOT.glob("tests/bench/past/*.py")])
    return hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:8]


def _name(name: str) -> None:
    connections.close_all()
    connection.settings_dict["NAME"] = name


def _is_there(name: str) -> bool:
    if connection.vendor == "sqlite":
        return Path(name).exists()
    return bool(_on_the_server("SELECT 1 FROM pg_database WHERE datname = %s", name))


def _remove(name: str) -> None:
    if connection.vendor == "sqlite":
        for ending in ("", "-wal", "-shm"):
            Path(name + ending).unlink(missing_ok=True)
    else:
        _on_the_server(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def _on_the_server(sql: str, *params: str) -> list[Any]:
    """Run one statement beside the shop's database: no database is made or dropped from within."""
    connections.close_all()
    with connection._nodb_cursor() as cursor:
        cursor.execute(sql, params or None)
        return cursor.fetchall() if cursor.description else []
