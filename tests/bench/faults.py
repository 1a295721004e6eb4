"""What goes wrong in a shop, done to one for minutes: `python -m tests.bench.faults`.

Prints a row for each: what was done, what was seen, and whether all holds, `verify` and every
answered success included. The tests of tests/faults/ do the same for seconds. On PostgreSQL it
starts a server of its own in a temporary folder.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from tests.faults import breaking, scenarios
from tests.faults.own_postgres import OwnPostgres, own_postgres
from tests.faults.scenarios import Outcome
from tests.faults.shops import ROOT, Shop, copy_of, new_shop

WAIT_SQLITE_SECONDS_MAX = 25
WAIT_POSTGRESQL_SECONDS_MAX = 45  # for the batch, and then for its lots
LOCKED_SECONDS = 30
FULL_SECONDS = 10
SMALL_DISK_MB = 100  # the write-ahead log alone may take 40
SMALL_SERVER_MB = 150  # what an empty PostgreSQL takes, and some
RECOVERY_SECONDS = 5


class Ground(NamedTuple):
    """Where it all happens.

    Attributes:
        folder: Temporary.
        original: A furnished shop, to be copied.
        postgres: The server; None on SQLite.
    """

    folder: Path
    original: Shop
    postgres: OwnPostgres | None

    def room(self, name: str) -> Path:
        """An empty folder."""
        folder = self.folder / name
        folder.mkdir()
        return folder

    def shop(self, name: str) -> Shop:
        """A fresh copy of the furnished shop."""
        return copy_of(self.original, folder=self.room(name))


Fault = Callable[[Ground, argparse.Namespace], Outcome]


def main() -> int:
    """Do all of it, or what is asked, and print a row as soon as it is done."""
    options = _options()
    chosen = {name: fault for name, fault in _faults(options) if options.only in {None, name}}
    print("| what | seen | holds |\n| --- | --- | --- |", flush=True)  # noqa: T201 - its answer
    has_held = True
    with ExitStack() as stack:
        ground = _ground(stack, options.database)
        for fault in chosen.values():
            outcome = fault(ground, options)
            has_held &= not outcome.wrong
            verdict = "yes" if not outcome.wrong else "NO: " + "; ".join(outcome.wrong[:5])
            print(f"| {outcome.what} | {outcome.seen} | {verdict} |", flush=True)  # noqa: T201
    return 0 if has_held else 1


def _faults(options: argparse.Namespace) -> Iterator[tuple[str, Fault]]:
    yield "keys", lambda g, _: scenarios.one_key_from_eight(g.shop("keys"), keys=200)
    yield "half", lambda g, _: scenarios.half_a_body(g.shop("half"), times=100)
    yield "slow", lambda g, _: scenarios.slow_clients(g.shop("slow"), clients=12, seconds=30)
    yield "big", lambda g, _: scenarios.a_big_body(g.shop("big"))
    yield "lock", _long_lock
    yield "disk", _full_disk
    if options.database == "sqlite":
        yield "damage", lambda g, _: breaking.damaged_file(g.shop("damage"))
    else:
        yield "ended", lambda g, _: breaking.terminated_connections(g.shop("ended"), seconds=60)
        yield "gone", _gone_and_back
    yield "cuts", lambda g, o: scenarios.power_cuts(g.shop("cuts"), cuts=o.cuts)
    yield "writers", lambda g, o: scenarios.eight_writers(g.shop("eight"), seconds=o.minutes * 60)
    yield "kills", _kills


def _long_lock(ground: Ground, _: argparse.Namespace) -> Outcome:
    shop = ground.shop("lock")
    return scenarios.long_lock(
        shop,
        hold=breaking.lock_of_another(shop),
        seconds=LOCKED_SECONDS,
        wait_seconds_max=(
            WAIT_POSTGRESQL_SECONDS_MAX if ground.postgres else WAIT_SQLITE_SECONDS_MAX
        ),
    )


def _full_disk(ground: Ground, _: argparse.Namespace) -> Outcome:
    megabytes = SMALL_SERVER_MB if ground.postgres else SMALL_DISK_MB
    with breaking.small_disk(ground.room("disk"), megabytes=megabytes) as disk:
        if ground.postgres is None:
            shop = copy_of(ground.original, folder=disk)
            return breaking.full_disk(shop, disk, seconds=FULL_SECONDS, mend=lambda: None)
        disk.chmod(0o755)
        inner = disk / "postgres"
        inner.mkdir()
        with own_postgres(inner) as server:

            def start_again() -> None:
                time.sleep(RECOVERY_SECONDS)  # it may come back by itself
                if not server.is_up:
                    server.start()

            shop = new_shop(folder=ground.room("on-disk"), server=server.url)
            return breaking.full_disk(shop, disk, seconds=FULL_SECONDS, mend=start_again)


def _gone_and_back(ground: Ground, _: argparse.Namespace) -> Outcome:
    assert ground.postgres is not None
    return breaking.gone_and_back(ground.shop("gone"), ground.postgres, times=10)


def _kills(ground: Ground, options: argparse.Namespace) -> Outcome:
    """The test that kills a posting program, with many more kills."""
    environment = {**ground.original.environment, "SHOP_KILLS": str(options.kills)}
    test = "tests/inventory/stock/test_kill.py"
    done = subprocess.run(  # noqa: S603 - our own test
        [sys.executable, "-m", "pytest", "-q", "--nomigrations", test],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    said = done.stdout.strip().splitlines()[-1]
    what = f"{options.kills} kills at random points of postings"
    return Outcome(what, said, [] if done.returncode == 0 else [said])


def _ground(stack: ExitStack, database: str) -> Ground:
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="shop-faults-")))
    folder.chmod(0o755)  # the user that runs PostgreSQL comes through
    original = folder / "original"
    original.mkdir()
    if database == "sqlite":
        return Ground(folder, new_shop(folder=original), None)
    inner = folder / "postgres"
    inner.mkdir()
    postgres = stack.enter_context(own_postgres(inner))
    return Ground(folder, new_shop(folder=original, server=postgres.url), postgres)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.faults", description=__doc__)
    parser.add_argument("--database", choices=["sqlite", "postgresql"], default="sqlite")
    parser.add_argument("--minutes", type=float, default=10, help="of eight writers")
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--cuts", type=int, default=40, help="power cuts under eight writers")
    parser.add_argument("--only", metavar="NAME", help="one of: keys half slow big lock disk ...")
    return parser.parse_args()


if __name__ == "__main__":
    os.environ.pop("DATABASE_URL", None)  # never a shop that somebody works in
    sys.exit(main())
