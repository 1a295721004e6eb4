"""What is done to the database under a shop that runs: gone, cut off, full, damaged."""

from __future__ import annotations

import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import psycopg

from tests.faults.asking import Client, Work, disagreements, entry, write_together
from tests.faults.own_postgres import OwnPostgres
from tests.faults.scenarios import WRITERS, Outcome
from tests.faults.shops import Shop, served

PAUSE_SECONDS: Final = 0.3
BACK_SECONDS: Final = 5
"""Writers go on for so long once the trouble is over."""


def terminated_connections(shop: Shop, *, seconds: float) -> Outcome:
    """On PostgreSQL, every connection of the shop is ended again and again, in mid-posting too."""
    ended = 0

    def terminate() -> None:
        nonlocal ended
        stop = time.monotonic() + seconds
        with psycopg.connect(shop.url, autocommit=True) as other:
            while time.monotonic() < stop:
                ended += len(other.execute(ALL_OTHERS).fetchall())
                time.sleep(PAUSE_SECONDS)
        time.sleep(BACK_SECONDS)

    with served(shop) as server:
        work = write_together(shop, server.port, writers=WRITERS, meanwhile=terminate)
    wrong = disagreements(shop, work) + _unexpected(work, {"database_unavailable"})
    return Outcome(f"{ended} connections ended in {seconds:g} s", _seen(work), wrong)


ALL_OTHERS: Final = """
    SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid()
"""


def gone_and_back(shop: Shop, server: OwnPostgres, *, times: int) -> Outcome:
    """The database server stops under eight writers, half the times as by a crash, and returns."""

    def stop_and_start() -> None:
        for number in range(times):
            time.sleep(2)
            server.stop(mode="immediate" if number % 2 else "fast")
            time.sleep(1)
            server.start()
        time.sleep(BACK_SECONDS)

    with served(shop) as web:
        work = write_together(shop, web.port, writers=WRITERS, meanwhile=stop_and_start)
    wrong = disagreements(shop, work) + _unexpected(work, {"database_unavailable"})
    return Outcome(f"database server gone and back {times} times", _seen(work), wrong)


def full_disk(shop: Shop, disk: Path, *, seconds: float, mend: Callable[[], None]) -> Outcome:
    """The disk under the database fills up under eight writers, and gets room again.

    Args:
        shop: Its database lies on the disk.
        disk: A small file system.
        seconds: How long it stays full.
        mend: What a person must do once there is room.
    """
    filler = disk / "filler"

    def fill_and_clear() -> None:
        time.sleep(1)
        stop = time.monotonic() + seconds
        while time.monotonic() < stop:
            try:
                with filler.open("ab") as file:
                    file.write(b"x" * 1_000_000)
            except OSError:
                time.sleep(0.05)  # full: take what becomes free
        filler.unlink(missing_ok=True)
        mend()
        time.sleep(BACK_SECONDS)

    with served(shop) as web:
        work = write_together(shop, web.port, writers=WRITERS, meanwhile=fill_and_clear)
    known = {"disk_full", "database_unavailable"}
    wrong = disagreements(shop, work) + _unexpected(work, known)
    return Outcome(f"disk full for {seconds:g} s", _seen(work), wrong)


def damaged_file(shop: Shop) -> Outcome:
    """The file of an SQLite shop is overwritten while it runs; its copy comes back."""
    file = shop.folder / "shop.sqlite3"
    path = f"batches/{shop.batches[0]}/entries/"
    whole = file.read_bytes()
    wrong: list[str] = []
    with served(shop) as server:
        client = Client(shop, server.port)
        file.write_bytes(b"\xee" * len(whole))
        said = client.ask("POST", path, entry(), key="damaged")
        client.close()
    if (said.status, said.code) != (500, "database_damaged"):
        wrong.append(f"answered {said.status} {said.code}")
    for part in shop.folder.glob("shop.sqlite3*"):
        part.unlink()
    file.write_bytes(whole)
    with served(shop) as server:
        client = Client(shop, server.port)
        after = client.ask("POST", path, entry(), key="damaged").status
        client.close()
    wrong += [] if after == 201 else [f"after the copy came back {after}"]
    wrong += disagreements(shop, Work())
    return Outcome("file overwritten, then its copy put back", f"{said.code}, then {after}", wrong)


def lock_of_another(shop: Shop) -> Callable[[], Callable[[], None]]:
    """Takes what another program may hold for long: SQLite's one lock, PostgreSQL's lots."""

    def take() -> Callable[[], None]:
        if not shop.url:
            file = sqlite3.connect(shop.folder / "shop.sqlite3", isolation_level=None)
            file.execute("BEGIN IMMEDIATE")
            return file.close
        line = psycopg.connect(shop.url)
        line.execute("SELECT id FROM inventory_lot ORDER BY id FOR UPDATE")
        return line.close

    return take


@contextmanager
def small_disk(folder: Path, *, megabytes: int) -> Iterator[Path]:
    """A file system in memory that is soon full; needs root.

    Raises:
        PermissionError: we may not mount.
    """
    mount = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "none", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:  # noqa: S603 - ours
        raise PermissionError("A small disk can be mounted by root only.")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)  # noqa: S603, S607 - ours


def _unexpected(work: Work, known: set[str]) -> list[str]:
    """What nobody should be answered in such trouble, and whether it was seen at all."""
    found = [
        f"{number} answers {code}" for code, number in work.refused.items() if code not in known
    ]
    found += [] if set(work.refused) & known else ["nobody noticed"]
    found += [f"{work.broken} requests without an answer"] if work.broken else []
    return found + ([] if work.told else ["nothing was written"])


def _seen(work: Work) -> str:
    codes = ", ".join(f"{number} x {code}" for code, number in sorted(work.refused.items()))
    return f"{len(work.told)} postings; told to wait: {codes or 'nobody'}"
