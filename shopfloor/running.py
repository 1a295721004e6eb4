"""One program at a time serves, or replaces, a shop whose database is a file.

The lock is the operating system's and ends with the process, however that ends: a file that a
power cut left behind holds nobody up. What is written in it only tells a person who has it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Final

from django.db import connection

# Far past anything written: Windows lets nobody read where another has locked.
LOCKED_BYTE: Final = 2**30


class AlreadyRunningError(Exception):
    """Another program has the shop; the message says which, and what to do."""


@contextmanager
def running_shop() -> Iterator[Callable[[str], None]]:
    """Have the shop for oneself; a database server shares it out by itself.

    Gives a function that takes what whoever comes second is told about this program.

    Raises:
        AlreadyRunningError: another program has it.
    """
    name = str(connection.settings_dict["NAME"])
    if connection.vendor != "sqlite" or name.startswith("file:") or name == ":memory:":
        yield lambda _: None
        return
    path = Path(f"{name}.running")
    with path.open("a+", encoding="utf-8") as file:
        if not _take_lock(file):
            file.seek(0)
            raise AlreadyRunningError(
                f"This shop is in use already: {file.read().strip() or 'by another program'}. "
                "End that one first (Ctrl-C in its window), or use it."
            )

        def known_as(what: str) -> None:
            file.truncate(0)
            file.write(f"{what}, process {os.getpid()}")
            file.flush()

        known_as("just started")
        try:
            yield known_as
        finally:
            file.truncate(0)


if os.name == "nt":
    import msvcrt

    def _take_lock(file: IO[str]) -> bool:
        os.lseek(file.fileno(), LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True
else:
    import fcntl

    def _take_lock(file: IO[str]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
