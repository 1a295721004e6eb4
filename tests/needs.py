"""What a test needs of the machine. The only place that skips, so that nothing does so quietly."""

from __future__ import annotations

import os
import shutil
from typing import NoReturn

import pytest
from django.db import connection


def skip_aloud(reason: str) -> NoReturn:
    """Skip, with the reason in the summary; where nothing may be skipped, fail."""
    if os.environ.get("SHOP_NOTHING_SKIPPED") == "1":
        pytest.fail(f"Nothing may be skipped here, yet: {reason}", pytrace=False)
    pytest.skip(reason)


def need_program(name: str, *, package: str) -> str:
    """The path of a program, e.g. Debian's `chromium`."""
    path = shutil.which(name)
    if path is None:
        skip_aloud(f"needs the program {name} (Debian: apt-get install {package})")
    return path


def need_threads() -> None:
    """A database that several connections share: PostgreSQL, or SQLite in a file."""
    if connection.vendor == "sqlite" and os.environ.get("SQLITE_TEST_FILE") != "1":
        skip_aloud("needs a database of several connections: set SQLITE_TEST_FILE=1")
