"""Writing a whole shop into a folder. Reads the database, and writes files alone."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings

from batches.exchange.rules.moving_about import ABOUT_FILE, UPLOADS, About, Digest
from batches.exchange.selectors.moving import (
    MovingTable,
    about_shop,
    cells_of,
    copy_files,
    files_below,
    moving_tables,
    sha256_of,
)
from shopfloor.snapshot import snapshot


def write_shop(
    *, folder: Path, now: datetime, has_sign_ins: bool, on_rows: Callable[[int], None]
) -> About:
    """Write every sheet and upload, all as they are at one moment, and `about.json` last.

    One query a table and one more.

    Args:
        folder: Stands, and is empty.
        now: For `about.json`.
        has_sign_ins: Whether passwords and tokens go along.
        on_rows: Told how many rows were just written.
    """
    with snapshot():
        sheets = {
            table.sheet.file: _write_sheet(folder, table, on_rows)
            for table in moving_tables(has_sign_ins=has_sign_ins)
        }
        # Files stand before the rows that name them, so they are copied after the rows were read.
        uploads = _copy_uploads(folder / UPLOADS)
        about = about_shop(now=now, has_sign_ins=has_sign_ins, sheets=sheets, uploads=uploads)
    (folder / ABOUT_FILE).write_text(about.written(), encoding="utf-8", newline="\n")
    return about


class _Hashing:
    """A file that digests what goes through it."""

    def __init__(self, file: Any) -> None:
        self._file = file
        self.digest = hashlib.sha256()

    def write(self, text: str) -> None:
        data = text.encode()
        self.digest.update(data)
        self._file.write(data)


def _write_sheet(folder: Path, table: MovingTable, on_rows: Callable[[int], None]) -> Digest:
    count = 0
    with (folder / table.sheet.file).open("xb") as plain:
        file = _Hashing(plain)
        writer = csv.writer(file)
        writer.writerow(table.sheet.header)
        for rows in cells_of(table):
            writer.writerows(rows)
            count += len(rows)
            on_rows(len(rows))
    return Digest(count, file.digest.hexdigest())


def _copy_uploads(into: Path) -> dict[str, Digest]:
    copy_files(files_below(Path(settings.MEDIA_ROOT)), into)
    return {
        name: Digest(path.stat().st_size, sha256_of(path))
        for name, path in files_below(into).items()
    }
