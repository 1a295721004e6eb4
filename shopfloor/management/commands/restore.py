"""`manage.py restore FILE`: makes this shop the one of a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import Error
from django.utils import timezone

from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.restoring import Restored, restore_backup
from shopfloor.management.shop_command import away
from shopfloor.running import AlreadyRunningError, running_shop


class Command(BaseCommand):
    """Restores, brings the database up to date, and verifies."""

    help = "Make this shop the one of a backup. See docs/operating.md."
    requires_system_checks = ()  # of what is about to be replaced

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("file", type=Path, help="a file that `manage.py backup` made")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="in the place of a shop that stands, which is backed up first",
        )

    def handle(self, *, file: Path, replace: bool, **options: Any) -> None:
        """Run it all."""
        try:
            with running_shop() as known_as:
                known_as("a restore")
                restored = restore_backup(file, is_replacing=replace, at=timezone.now())
                self.tell(restored)
                call_command("migrate", interactive=False, verbosity=0)
        except (BackupRefusedError, AlreadyRunningError) as error:
            raise CommandError(str(error)) from error
        except Error as error:
            raise away(error) from error
        if "verify" in get_commands():
            call_command("verify", stdout=self.stdout)
        self.stdout.write(
            "Everybody signs in again. People, passwords and tokens are as they were then: revoke "
            "and blank again what was revoked and blanked since."
        )
        for line in restored.settings:
            self.stderr.write(f"{line} Set it before the shop is started.")

    def tell(self, restored: Restored) -> None:
        """What was done."""
        if restored.saved:
            self.stdout.write(f"What stood here before is in {restored.saved}.")
        self.stdout.write(
            f"Restored the shop as it was at {restored.made_at}: {restored.row_count} rows, "
            f"{restored.upload_count} uploads."
        )
