"""Makes a backup while people work: finished, read back and on the disk, or none."""

from __future__ import annotations

import os
import platform
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, NamedTuple

import django
from django.conf import settings
from django.db import Error, connection

from shopfloor import bootstrap
from shopfloor.backup import postgresql, sqlite
from shopfloor.backup.archive import (
    DATABASES,
    FORMAT,
    SECRET_KEY,
    UPLOADS,
    ArchiveWriter,
    DatabaseState,
    Manifest,
    opened_archive,
    refuse_odd_name,
)
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.places import (
    ASKED,
    backup_name,
    new_private_file,
    prune,
    put,
    refuse_too_little_space,
    working_folder,
)

KEPT_SETTINGS: Final = (
    "SHOP_NAME", "SHOP_TIME_ZONE", "SHOP_CURRENCY", "SHOP_GS1_PREFIX", "SHOP_ADDRESS",
)  # fmt: skip


class MadeBackup(NamedTuple):
    """A finished backup."""

    file: Path
    size_bytes: int
    row_count: int
    upload_count: int
    pruned: list[Path]


def make_backup(
    *,
    to: Path,
    at: datetime,
    prefix: str = ASKED,
    has_secret_key: bool = False,
    keep: int | None = None,
) -> MadeBackup:
    """Back up the database and the uploads; the shop runs on meanwhile.

    Args:
        to: A folder, made if need be, or the name of a new file that ends in `.zip`.
        at: Now.
        prefix: Why it is made; begins the file's name in a folder.
        has_secret_key: Put the key that signs cookies in as well.
        keep: How many of this shop and prefix are left in the folder; None: all.

    Raises:
        BackupRefusedError: none was made, and nothing is left of it.
    """
    named = to if to.suffix.lower() == ".zip" and not to.is_dir() else None
    folder = (named.parent if named else to).resolve()
    if named and named.exists():
        raise BackupRefusedError(f"{named} exists already. Choose another name, or delete it.")
    if named and keep is not None:
        raise BackupRefusedError("--keep is for a folder of backups, not for one named file.")
    with _in_words(), working_folder(folder) as work:
        refuse_too_little_space(work, needed_bytes=_needed_bytes())
        unnamed = work / "backup.zip"
        state = _write(unnamed, at=at, has_secret_key=has_secret_key)
        with opened_archive(unnamed) as archive:
            archive.prove()  # what cannot be read back is no backup
            upload_count = len(archive.upload_names())
        file = named or folder / backup_name(prefix=prefix, shop=state.shop, at=at)
        size_bytes = unnamed.stat().st_size
        put(unnamed, file)
        pruned = prune(folder, prefix=prefix, shop=state.shop, keep=keep) if keep else []
    return MadeBackup(file, size_bytes, sum(state.rows.values()), upload_count, pruned)


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except (OSError, sqlite3.Error, Error) as error:
        raise BackupRefusedError(f"No backup was made: {str(error).strip()}.") from error


def _write(target: Path, *, at: datetime, has_secret_key: bool) -> DatabaseState:
    with new_private_file(target) as file:
        writer = ArchiveWriter(file, at=at)
        state = _add_database(writer, work=target.parent)
        for path in _upload_files():
            name = UPLOADS + path.relative_to(settings.MEDIA_ROOT).as_posix()
            refuse_odd_name(name)
            with path.open("rb") as source:
                writer.add(name, source)
        if has_secret_key:
            _add_secret_key(writer)
        writer.finish(_manifest(writer, state, at=at))
        file.flush()
        os.fsync(file.fileno())
    return state


def _add_database(writer: ArchiveWriter, *, work: Path) -> DatabaseState:
    name = DATABASES[connection.vendor]
    if connection.vendor == "postgresql":
        with postgresql.dumped() as (dump, state):
            writer.add(name, dump, is_packed=True)
        return state
    copy = work / name
    new_private_file(copy).close()
    state = sqlite.copy_database(copy)
    with copy.open("rb") as source:
        writer.add(name, source)
    copy.unlink()
    return state


def _add_secret_key(writer: ArchiveWriter) -> None:
    file = bootstrap.secret_key_file()
    if not file.exists():
        raise BackupRefusedError(
            f"There is no {file}: the secret key is in SHOP_SECRET_KEY. Keep it where that is set."
        )
    with file.open("rb") as source:
        writer.add(SECRET_KEY, source)


def _upload_files() -> list[Path]:
    root = Path(settings.MEDIA_ROOT)
    return sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())


def _manifest(writer: ArchiveWriter, state: DatabaseState, *, at: datetime) -> Manifest:
    is_file = connection.vendor == "sqlite"
    return Manifest(
        format=FORMAT,
        made_at=f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
        kind=connection.vendor,
        versions={
            "python": platform.python_version(),
            "django": django.get_version(),
            "database": sqlite3.sqlite_version if is_file else postgresql.server_version(),
        },
        settings={name: str(getattr(settings, name)) for name in KEPT_SETTINGS},
        is_demo=bool(settings.SHOP_IS_DEMO),
        state=state,
        parts=dict(writer.parts),
    )


def _needed_bytes() -> int:
    """The most it may take: a copy of the database, and an archive that packing did not shrink."""
    uploads = sum(path.stat().st_size for path in _upload_files())
    if connection.vendor == "postgresql":
        return postgresql.dump_bytes_max() + uploads
    return 2 * sqlite.database_bytes() + uploads
