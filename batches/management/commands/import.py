"""`manage.py import FOLDER`: a shop's own sheets, checked, then posted whole or not at all."""  # noqa: N999 - the command's name

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from time import monotonic
from typing import Any, Final, TextIO

from django.core.management.base import CommandError
from django.utils import timezone

from batches.exchange.errors import ImportRefusedError
from batches.exchange.operations.importing import import_sheets
from batches.exchange.operations.moving import take_in_shop
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.moving_about import FolderRefusedError
from batches.exchange.rules.writing import DATES, DECIMALS, ENCODINGS, Writing, headings_said
from batches.exchange.selectors.checking import CheckedSheets, checked_sheets
from batches.exchange.selectors.moving_in import about_folder, is_moved_shop
from shopfloor import bootstrap
from shopfloor.days import shop_zone
from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand, person_of
from shopfloor.roles import LEADS

BAR_WIDTH: Final = 30
BAR_SECONDS: Final = 0.2
SUFFIXES: Final = {".csv", ".tsv", ".xlsx", ".xlsm", ".xlsb", ".xls", ".ods", ".numbers"}
AS_OURS: Final = "UTF-8, parted by commas"


class Command(ShopCommand):
    """Reads every sheet of a folder; docs/import.md explains them."""

    help = "Import sheets (CSV, .xlsx): all of them, or nothing. See docs/import.md."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "folder", type=Path, help="where the sheets are: items.csv, ...; or one file"
        )
        parser.add_argument("--check", action="store_true", help="only check, write nothing")
        parser.add_argument(
            "--by", metavar="USERNAME", default="", help="who imports; else the first owner"
        )
        parser.add_argument("--encoding", choices=ENCODINGS, default="", help="of CSV files")
        parser.add_argument("--decimals", choices=DECIMALS, default="", help="the decimal mark")
        parser.add_argument("--dates", choices=DATES, default="", help="how 1/2/2026 is meant")
        parser.add_argument(
            "--heading",
            action="append",
            default=[],
            metavar="[SHEET:]HEADING=COLUMN",
            help="what a heading of your own stands for; nothing after the sign: left out",
        )

    def handle(self, *, folder: Path, check: bool, by: str, **options: Any) -> None:
        """Check, then post."""
        if is_moved_shop(folder):
            self.take_in(folder, is_check=check)
            return
        now = timezone.now()
        person = person_of(by, roles=LEADS, verb="imports")
        try:
            sheets = checked_sheets(_files(folder), Clock(shop_zone(), now), _writing(options))
            self._tell(sheets)
            if check:
                self.stdout.write(
                    f"{_counted(sheets)}: nothing wrong was found, and nothing was written."
                    " Whether lots were short at their time is found when it is posted."
                )
                return
            bar = ProgressBar(sheets.row_count, sys.stderr)
            import_sheets(sheets=sheets, by=person, now=now, on_rows=bar.add)
            bar.end()
        except ImportRefusedError as refused:
            raise CommandError("\n".join([*refused.lines, refused.detail])) from refused
        self.stdout.write(f"{_counted(sheets)} imported.")

    def _tell(self, sheets: CheckedSheets) -> None:
        """Say how sheets were read that are not written as ours."""
        for source in sheets.sources:
            if source.how.removesuffix(", a decimal point") != AS_OURS:
                self.stdout.write(f"{source.label}: read as {source.how}.")

    def take_in(self, folder: Path, *, is_check: bool) -> None:
        """Make this empty shop the one that the folder holds; docs/moving.md explains it."""
        if is_check:
            raise CommandError("A whole shop comes in whole or not at all: leave --check out.")
        try:
            about = about_folder(folder)
            bar = ProgressBar(about.row_count, sys.stderr)
            take_in_shop(folder=folder, about=about, on_rows=bar.add)
            bar.end()
        except FolderRefusedError as refused:
            raise CommandError(str(refused)) from refused
        if about.is_demo:
            bootstrap.demo_marker().write_text("loaded", encoding="utf-8")
        self.stdout.write(f"{about.row_count} rows of {len(about.sheets)} sheets came in;")
        self.stdout.write("everything that can be computed twice comes out the same.")
        if not about.has_sign_ins:
            self.stdout.write(
                "No password came along: `python3 manage.py changepassword NAME` gives one."
            )


class ProgressBar:
    """How far it is, in one line of a terminal; silent anywhere else."""

    def __init__(self, rows: int, stream: TextIO) -> None:
        self._rows = rows
        self._stream = stream
        self._is_shown = stream.isatty() and rows > 0
        self._done = 0
        self._drawn_at = 0.0

    def add(self, rows: int) -> None:
        """So many rows more are done."""
        self._done += rows
        if self._is_shown and monotonic() - self._drawn_at >= BAR_SECONDS:
            self._draw()

    def end(self) -> None:
        """All is done; the line is left."""
        if self._is_shown:
            self._draw()
            self._stream.write("\n")

    def _draw(self) -> None:
        self._drawn_at = monotonic()
        filled = BAR_WIDTH * self._done // self._rows
        bar = "#" * filled + "." * (BAR_WIDTH - filled)
        self._stream.write(f"\r[{bar}] {self._done} of {self._rows} rows")
        self._stream.flush()


def _writing(options: dict[str, Any]) -> Writing:
    try:
        headings = headings_said(options["heading"])
    except ShopError as refused:
        raise CommandError(refused.detail) from refused
    said = {name: options[name] for name in ("encoding", "decimals", "dates")}
    return Writing(**said, headings=headings)


def _files(folder: Path) -> dict[str, bytes]:
    if folder.is_file():
        return {folder.name: folder.read_bytes()}
    if not folder.is_dir():
        raise CommandError(f"There is no folder {folder}.")
    found = {path.name: path.read_bytes() for path in folder.iterdir() if _is_sheet(path)}
    if not found:
        raise CommandError(f"There is no .csv or .xlsx file in {folder}.")
    return found


def _is_sheet(path: Path) -> bool:
    """Whether a person may take it for one; what cannot be read is then told."""
    # A spreadsheet that has it open keeps a file beside it whose name begins so.
    is_shown = not path.name.startswith((".", "~$"))
    return path.is_file() and path.suffix.lower() in SUFFIXES and is_shown


def _counted(sheets: CheckedSheets) -> str:
    count = sum(1 for rows in sheets.rows.values() if rows)
    return f"{sheets.row_count} rows of {count} sheets"
