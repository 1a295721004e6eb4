"""`manage.py backup`: the whole shop into one file while it runs, and the proof of such a file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import Error
from django.utils import timezone

from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.making import make_backup
from shopfloor.backup.places import MEGABYTE, backups_folder, newest_backup
from shopfloor.backup.proving import prove_backup
from shopfloor.management.shop_command import ShopCommand, away


class Command(ShopCommand):
    """Makes a backup, or proves one."""

    help = "Back up database and uploads into one file, while people work. See docs/operating.md."
    requires_system_checks = ()  # whatever is wrong with a shop, it can be backed up

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "to",
            nargs="?",
            type=Path,
            metavar="FILE|FOLDER",
            help="a new .zip file, or a folder; else the folder backups of the data folder",
        )
        parser.add_argument(
            "--keep", type=int, metavar="N", help="leave the newest N of this shop in the folder"
        )
        parser.add_argument(
            "--with-secret-key",
            action="store_true",
            help="put secret-key.txt in as well: whoever reads the file can then forge cookies",
        )
        parser.add_argument(
            "--check",
            type=Path,
            metavar="FILE|FOLDER",
            help="make none; prove this one, or a folder's newest, by restoring it elsewhere",
        )

    def handle(
        self,
        *,
        to: Path | None,
        keep: int | None,
        with_secret_key: bool,
        check: Path | None,
        **options: Any,
    ) -> None:
        """Make it, or prove it."""
        if keep is not None and keep < 1:
            raise CommandError("--keep is 1 or more: the new backup is one of them.")
        if check is not None and (to, keep, with_secret_key) != (None, None, False):
            raise CommandError("--check stands alone: it makes no backup.")
        try:
            if check is not None:
                file = newest_backup(check) if check.is_dir() else check
                self.stdout.write("\n".join(prove_backup(file)))
                self.stdout.write(f"{file} restores to a shop in which everything holds.")
                return
            made = make_backup(
                to=to or backups_folder(),
                at=timezone.now(),
                has_secret_key=with_secret_key,
                keep=keep,
            )
        except BackupRefusedError as error:
            raise CommandError(str(error)) from error
        except Error as error:
            raise away(error) from error
        for path in made.pruned:
            self.stdout.write(f"{path.name} was deleted: --keep {keep}.")
        self.stdout.write(
            f"{made.file}: {made.row_count} rows, {made.upload_count} uploads, "
            f"{made.size_bytes / MEGABYTE:.1f} MB."
        )
