"""Where backups go, and how a file gets there whole, for its owner's eyes, or not at all."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Final

from django.conf import settings

from shopfloor.backup.errors import BackupRefusedError

ASKED: Final = "backup"
BEFORE_UPDATE: Final = "before-update"
BEFORE_RESTORE: Final = "before-restore"

UNFINISHED: Final = "unfinished-"
LEFT_BEHIND_SECONDS: Final = 24 * 60 * 60
MEGABYTE: Final = 1024 * 1024


def backups_folder() -> Path:
    """Where backups go unless somebody says otherwise."""
    return Path(settings.SHOP_DATA_DIR) / "backups"


def backup_name(*, prefix: str, shop: str, at: datetime) -> str:
    """Why it was made, of which shop, and when (UTC): names sort by time."""
    return f"{prefix}-{shop}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}.zip"


def newest_backup(folder: Path) -> Path:
    """The latest of a folder that was made because it was asked for.

    Raises:
        BackupRefusedError: there is none.
    """
    ours = re.compile(rf"{ASKED}-\w+-(\d{{8}}T\d{{6}}Z)\.zip")
    found = [(match[1], path) for path in folder.iterdir() if (match := ours.fullmatch(path.name))]
    if not found:
        raise BackupRefusedError(f"There is no backup in {folder}.")
    return max(found)[1]


@contextmanager
def working_folder(inside: Path) -> Iterator[Path]:
    """A folder for this user alone, gone at the end; those that a power cut left go first."""
    inside.mkdir(mode=0o700, parents=True, exist_ok=True)
    for left in inside.glob(f"{UNFINISHED}*"):
        if time.time() - left.stat().st_mtime > LEFT_BEHIND_SECONDS:
            shutil.rmtree(left, ignore_errors=True)
    folder = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=inside))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_private_file(path: Path) -> IO[bytes]:
    """A file that was not there, for the eyes of this user alone where the system can."""
    return open(path, "xb", opener=lambda name, flags: os.open(name, flags, 0o600))


def put(finished: Path, target: Path) -> None:
    """Give a finished file its name, for good.

    Raises:
        BackupRefusedError: the name is taken.
    """
    if target.exists():
        raise BackupRefusedError(f"{target} exists already. Choose another name, or delete it.")
    os.replace(finished, target)
    settle(target.parent)


def settle(folder: Path) -> None:
    """Have the names of a folder on the disk; Windows has no way, and does it by itself."""
    if os.name != "nt":
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def refuse_too_little_space(folder: Path, *, needed_bytes: int) -> None:
    """Look before anything is written.

    Raises:
        BackupRefusedError: there is less room than it might take.
    """
    free_bytes = shutil.disk_usage(folder).free
    if free_bytes < needed_bytes:
        raise BackupRefusedError(
            f"There is too little room in {folder}: {free_bytes // MEGABYTE} MB are free, and it "
            f"may take {needed_bytes // MEGABYTE + 1} MB. Make room, or name another folder."
        )


def prune(folder: Path, *, prefix: str, shop: str, keep: int) -> list[Path]:
    """Delete all but the newest of one shop's backups of one kind; answers what went.

    Only by the full name: what a person renamed stays.
    """
    assert keep >= 1
    ours = re.compile(rf"{re.escape(prefix)}-{re.escape(shop)}-\d{{8}}T\d{{6}}Z\.zip")
    found = sorted(path for path in folder.iterdir() if ours.fullmatch(path.name))
    old = found[:-keep]
    for path in old:
        with suppress(FileNotFoundError):
            path.unlink()
    return old
