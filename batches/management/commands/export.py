"""`manage.py export FOLDER`: the whole shop as CSV sheets, to move it or to leave with it."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, TextIO

from django.core.management.base import CommandError
from django.utils import timezone

from batches.exchange.selectors.moving_out import write_shop
from shopfloor.management.shop_command import ShopCommand


class Command(ShopCommand):
    """People may go on working meanwhile: everything is as it was at one moment."""

    help = "Write the whole shop into a new folder of CSV sheets. See docs/moving.md."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("folder", type=Path, help="a new one, or an empty one")
        parser.add_argument(
            "--with-sign-ins",
            action="store_true",
            help="passwords (hashed) and tokens go along; else nobody can sign in afterwards "
            "until `changepassword` gives each person a new one",
        )

    def handle(self, *, folder: Path, with_sign_ins: bool, **options: Any) -> None:
        """Make the folder, and write."""
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if any(folder.iterdir()):
                raise CommandError(f"{folder} is not empty. Name a new folder.")
            about = write_shop(
                folder=folder,
                now=timezone.now(),
                has_sign_ins=with_sign_ins,
                on_rows=Counter(sys.stderr).add,
            )
        except OSError as error:
            raise CommandError(
                f"{folder} cannot be written ({error}). What was written there is not a whole "
                "shop: delete it, free some space or name another folder, and run this again."
            ) from error
        self.stdout.write(f"{about.row_count} rows of {len(about.sheets)} sheets in {folder}.")


class Counter:
    """How many rows are written, in one line of a terminal; silent anywhere else."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._done = 0

    def add(self, rows: int) -> None:
        """So many rows more are written."""
        self._done += rows
        if self._stream.isatty():
            self._stream.write(f"\r{self._done} rows\r")
            self._stream.flush()
