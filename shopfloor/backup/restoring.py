"""Puts a backup in the place of a shop. What can go wrong goes wrong before anything is changed."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from django.conf import settings
from django.db import Error, connection

from shopfloor import bootstrap
from shopfloor.backup import postgresql, sqlite
from shopfloor.backup.archive import SECRET_KEY, UPLOADS, Archive, Manifest, opened_archive
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.fitness import refuse_different, refuse_unfit
from shopfloor.backup.making import KEPT_SETTINGS, make_backup
from shopfloor.backup.places import (
    BEFORE_RESTORE,
    backups_folder,
    new_private_file,
    refuse_too_little_space,
    settle,
    working_folder,
)
from shopfloor.backup.state import database_state
from shopfloor.selectors import is_set_up


class Restored(NamedTuple):
    """A restored shop.

    Attributes:
        saved: The backup of what stood before, if anything did.
        settings: What the shop was set to where the backup was made and is not here, a line each.
    """

    made_at: str
    row_count: int
    upload_count: int
    saved: Path | None
    settings: list[str]


def restore_backup(file: Path, *, is_replacing: bool, at: datetime) -> Restored:
    """Make this shop the one of a backup; the database is still to be migrated and verified.

    Args:
        file: The backup.
        is_replacing: Whether a shop that stands may be replaced; it is backed up first.
        at: Now.

    Raises:
        BackupRefusedError: the shop is as it was.
    """
    with opened_archive(file) as archive:
        archive.prove()
        refuse_unfit(archive.manifest)
        if bootstrap.is_visiting_demo():
            raise BackupRefusedError(
                "The demo is open beside this shop. Leave it first: its first page has a button."
            )
        is_standing = _is_standing()
        if is_standing and not is_replacing:
            raise BackupRefusedError(
                "There is a shop here already. To put the backup in its place give --replace: it "
                f"is backed up into {backups_folder()} first."
            )
        refuse_in_use()
        data_folder = Path(settings.SHOP_DATA_DIR)
        refuse_too_little_space(data_folder, needed_bytes=archive.size_bytes())
        saved = _save_what_stands(at) if is_standing else None
        with working_folder(data_folder) as work:
            _put_all_in_place(archive, work)
        manifest = archive.manifest
        return Restored(
            made_at=manifest.made_at,
            row_count=sum(manifest.state.rows.values()),
            upload_count=len(archive.upload_names()),
            saved=saved,
            settings=_settings_that_differ(manifest),
        )


def refuse_in_use() -> None:
    """See that nobody works on the database.

    Raises:
        BackupRefusedError: somebody does.
    """
    if connection.vendor == "sqlite":
        sqlite.refuse_in_use()
    else:
        postgresql.refuse_in_use()


def extract(archive: Archive, name: str, target: Path) -> None:
    """Write a part to a new file, on the disk when this returns."""
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with new_private_file(target) as opened:
        archive.extract(name, opened)
        opened.flush()
        os.fsync(opened.fileno())


def _is_standing() -> bool:
    """Whether there is a shop; a database that holds something else is refused."""
    try:
        if is_set_up():
            return True
        is_file = connection.vendor == "sqlite" and not sqlite.database_file().exists()
        strange = [] if is_file else connection.introspection.table_names()
    except Error as error:
        raise BackupRefusedError(_aside(error)) from error
    if strange:
        raise BackupRefusedError(
            f"The database holds tables that are no shop's ({', '.join(strange[:3])}). Name an "
            "empty one in DATABASE_URL."
        )
    return False


def _save_what_stands(at: datetime) -> Path:
    try:
        return make_backup(to=backups_folder(), at=at, prefix=BEFORE_RESTORE).file
    except BackupRefusedError as error:
        raise BackupRefusedError(_aside(error)) from error


def _aside(error: Exception) -> str:
    how = (
        f"Move {sqlite.database_file()} and what begins with its name to another folder"
        if connection.vendor == "sqlite"
        else "Name an empty database in DATABASE_URL"
    )
    return (
        f"What stands here cannot be backed up, so it is not replaced: {str(error).strip()} "
        f"{how}, and restore without --replace."
    )


def _put_all_in_place(archive: Archive, work: Path) -> None:
    uploads = work / "uploads"
    uploads.mkdir(mode=0o700)
    for name in archive.upload_names():
        extract(archive, name, uploads / name.removeprefix(UPLOADS))
    database = work / archive.database_part
    extract(archive, archive.database_part, database)
    if connection.vendor == "sqlite":
        state = sqlite.copied_state(database)
        refuse_different(expected=archive.manifest.state, found=state)
        sqlite.put_in_place(database)
    else:
        _load(archive.manifest, database)
    _swap_folder(uploads, Path(settings.MEDIA_ROOT), aside=work / "uploads before")
    if SECRET_KEY in archive.manifest.parts:
        key = work / SECRET_KEY
        extract(archive, SECRET_KEY, key)
        os.replace(key, bootstrap.secret_key_file())
    if archive.manifest.is_demo:
        bootstrap.demo_marker().write_text("loaded", encoding="utf-8")
    else:
        bootstrap.demo_marker().unlink(missing_ok=True)


def _load(manifest: Manifest, dump: Path) -> None:
    ours = {*connection.introspection.django_table_names(), "django_migrations"}
    ours |= set(manifest.state.rows)
    standing = connection.introspection.table_names()
    postgresql.load(dump, tables_away=[table for table in standing if table in ours])
    with connection.cursor() as cursor:
        state = database_state(cursor, connection.introspection.table_names(cursor))
    refuse_different(expected=manifest.state, found=state)


def _swap_folder(new: Path, place: Path, *, aside: Path) -> None:
    with suppress(FileNotFoundError):
        os.replace(place, aside)
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.replace(new, place)
    settle(place.parent)


def _settings_that_differ(manifest: Manifest) -> list[str]:
    return [
        f"{name} was {was!r} where the backup was made, and is {now!r} here."
        for name, was in sorted(manifest.settings.items())
        if name in KEPT_SETTINGS and (now := str(getattr(settings, name))) != was
    ]
