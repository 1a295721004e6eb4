"""A cursor for statements whose words stay the same: PostgreSQL plans each once a connection.

Django puts the values into the words, so PostgreSQL reads and plans every statement anew, which
takes it longer than running any of an entry's.
"""

from __future__ import annotations

from typing import Any, cast

from django.db import connection
from django.db.backends.utils import CursorWrapper


def planned_cursor() -> CursorWrapper:
    """A cursor like Django's own; on PostgreSQL values go beside the words.

    What the driver was asked five times (`prepare_threshold` of its options) it has planned. A
    statement takes 65,535 values at most, and each needs a type that PostgreSQL can tell: a value
    that is only selected needs a CAST.
    """
    if connection.vendor != "postgresql" or connection.queries_logged:
        return connection.cursor()  # a log of statements needs their values
    from django.db.backends.postgresql import base  # noqa: PLC0415 - only where there is one
    from psycopg.types.numeric import Int8Dumper  # noqa: PLC0415 - as above

    connection.close_if_health_check_failed()
    connection.ensure_connection()
    with connection.wrap_database_errors:
        cursor = cast("Any", base).ServerBindingCursor(connection.connection)
    # Whole numbers are of one type, however large: else each size has a plan of its own.
    cursor.adapters.register_dumper(int, Int8Dumper)
    return cast("CursorWrapper", cast("Any", connection)._prepare_cursor(cursor))
