"""Where the shops stand that are measured: made once and kept, and opened as throw-away copies."""

from __future__ import annotations

import hashlib
import logging
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import django
from django.core.management import call_command
from django.db import connection, connections

ROOT = Path(__file__).resolve().parents[2]
_COPIES = count()
_open_years: list[int] = []


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
    logging.disable(logging.INFO)  # a line a request would hide the table


@contextmanager
def open_shop(*, years: int) -> Iterator[None]:
    """Work in a copy of a shop of so many years; what is written is gone at the end."""
    _open_years.append(years)
    try:
        with _opened(f"{years}_years", lambda: _fill_shop(years)):
            yield
    finally:
        _open_years.pop()


def years_open() -> int:
    """How old the shop is that is open."""
    return _open_years[-1]


@contextmanager
def open_plain_ledger(*, movements: int) -> Iterator[None]:
    """Work in a copy of a ledger with so many movements and nothing else."""
    with _opened(f"{movements}_movements", lambda: _fill_plain(movements)):
        yield


@contextmanager
def _opened(what: str, fill: Callable[[], None]) -> Iterator[None]:
    outside = connection.settings_dict["NAME"]
    kept = _kept(what, fill)
    _name(kept)
    call_command("migrate", verbosity=0)  # it may have been made before the newest migration
    connections.close_all()
    work = f"{kept.removesuffix('.sqlite3')}_work_{os.getpid()}_{next(_COPIES)}"
    if connection.vendor == "sqlite":
        work += ".sqlite3"
        shutil.copyfile(kept, work)
        os.sync()  # else every commit waits until the copy, too, is on the disk
    else:
        _on_the_server(f'CREATE DATABASE "{work}" TEMPLATE "{kept}"')
    _name(work)
    try:
        yield
    finally:
        _name(outside)
        _remove(work)


def _kept(what: str, fill: Callable[[], None]) -> str:
    """The file or database, made if it is not there yet."""
    name = f"bench_{what}_{_digest()}"
    if connection.vendor == "sqlite":
        name = str(Path(os.environ["SHOP_DATA_DIR"], f"{name}.sqlite3"))
    if not _is_there(name):
        building = name.replace("bench_", f"unfinished_{os.getpid()}_")
        if connection.vendor == "postgresql":
            _on_the_server(f'CREATE DATABASE "{building}"')
        _name(building)
        call_command("migrate", verbosity=0)
        fill()
        connections.close_all()
        if connection.vendor == "sqlite":
            Path(building).rename(name)
        else:
            _on_the_server(f'ALTER DATABASE "{building}" RENAME TO "{name}"')
    return name


# The tables are known once Django is set up, and this module sets it up.
def _fill_shop(years: int) -> None:
    from tests.bench.past import WORKDAYS_A_YEAR, fill, today  # noqa: PLC0415 - as above

    if years:
        extent = fill(workdays=years * WORKDAYS_A_YEAR, last_day=today())
        print(f"Made a shop of {years} years: {extent}")  # noqa: T201 - the person who waits


def _fill_plain(movements: int) -> None:
    from tests.bench.past import today  # noqa: PLC0415 - as above
    from tests.bench.past.plain import fill_plain  # noqa: PLC0415 - as above

    fill_plain(movements=movements, last_day=today())
    print(f"Made a ledger of {movements} movements")  # noqa: T201 - the person who waits


def _digest() -> str:
    """Changes with what fills them."""
    sources = sorted(ROOT.glob("tests/bench/past/*.py"))
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
