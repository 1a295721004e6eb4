"""How long a write waits for other writers, where it matters less than an answer soon."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.db import connection

MOMENT_MS: Final = 100


@contextmanager
def hardly_waiting() -> Iterator[None]:
    """Let what may as well stay unwritten wait a moment only, or readers would wait with it.

    On SQLite, where a long import is everybody's other writer; PostgreSQL locks rows alone.
    """
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    raw = connection.connection
    raw.execute(f"PRAGMA busy_timeout = {MOMENT_MS}")
    try:
        yield
    finally:
        usual_seconds: int = connection.settings_dict["OPTIONS"]["timeout"]
        raw.execute(f"PRAGMA busy_timeout = {usual_seconds * 1000}")
