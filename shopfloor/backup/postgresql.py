"""PostgreSQL: its own dump of one snapshot, and that dump read back in one transaction.

Its programs get host, name and password through their environment: a command line is there for
every user of the machine to read.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import IO, Any, Final

import psycopg
from django.db import ProgrammingError, connection, transaction

from shopfloor.backup.archive import DatabaseState
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.state import SIGNED_IN_TABLE, database_state

# Where the programs of one major version usually are when the PATH leads to others, or to none.
FOLDERS: Final = (
    "/usr/lib/postgresql/{major}/bin",
    "/usr/pgsql-{major}/bin",
    "/opt/homebrew/opt/postgresql@{major}/bin",
    "/usr/local/opt/postgresql@{major}/bin",
    "C:/Program Files/PostgreSQL/{major}/bin",
)
ENVIRONMENT: Final = {
    "passfile": "PGPASSFILE",
    "service": "PGSERVICE",
    "sslmode": "PGSSLMODE",
    "sslrootcert": "PGSSLROOTCERT",
    "sslcert": "PGSSLCERT",
    "sslkey": "PGSSLKEY",
}
LOCK_WAIT: Final = "20s"


def server_major() -> int:
    """Major version of the server."""
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        return int(cursor.fetchone()[0]) // 10000


def server_version() -> str:
    """Version of the server, as it says it."""
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version")
        return str(cursor.fetchone()[0])


def dump_bytes_max() -> int:
    """How large a dump is at most: packed, and without indexes, it is far less than this."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])


@contextmanager
def dumped() -> Iterator[tuple[IO[bytes], DatabaseState]]:
    """The dump as it comes, with what is in it; nobody waits for it.

    Raises:
        BackupRefusedError: the dump could not be made, or not to its end.
    """
    program = program_of("pg_dump")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = str(cursor.fetchone()[0])
        state = database_state(cursor, connection.introspection.table_names(cursor))
        state.rows.update({SIGNED_IN_TABLE: 0} if SIGNED_IN_TABLE in state.rows else {})
        command = [program, "--format=custom", "--no-owner", "--no-privileges", "--no-password"]
        command += [f"--snapshot={snapshot}", f"--exclude-table-data={SIGNED_IN_TABLE}"]
        command += [f"--lock-wait-timeout={LOCK_WAIT}"]
        with (
            tempfile.TemporaryFile() as complaints,
            subprocess.Popen(  # noqa: S603 - a program of PostgreSQL's, found by name
                command, stdout=subprocess.PIPE, stderr=complaints, env=environment()
            ) as process,
        ):
            assert process.stdout is not None
            try:
                yield process.stdout, state
            except BaseException:
                process.kill()
                raise
            if process.wait() != 0:
                raise BackupRefusedError(f"pg_dump made no backup: {_text(complaints)}")


def load(dump: Path, *, tables_away: list[str], database: str = "") -> None:
    """Read a dump into a database, else the shop's, in the place of some tables: all, or nothing.

    Raises:
        BackupRefusedError: it could not be read; the database is as it was.
    """
    reader, teller = program_of("pg_restore"), program_of("psql")
    command = [reader, "--no-owner", "--no-privileges", "--clean", "--if-exists", "--file=-"]
    told = [teller, "--no-psqlrc", "--quiet", "--no-password", "--set=ON_ERROR_STOP=1"]
    with (
        dump.open("rb") as source,
        tempfile.TemporaryFile() as complaints,
        subprocess.Popen(  # noqa: S603 - as above
            command, stdin=source, stdout=subprocess.PIPE, stderr=complaints
        ) as reading,
        subprocess.Popen(  # noqa: S603 - as above
            told,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=complaints,
            env=environment(database),
        ) as telling,
    ):
        assert reading.stdout is not None
        assert telling.stdin is not None
        try:
            telling.stdin.write(_beginning(tables_away).encode())
            shutil.copyfileobj(reading.stdout, telling.stdin)
            # Without this last word psql ends and the server forgets it all.
            if reading.wait() == 0:
                telling.stdin.write(b"\nCOMMIT;\n")
            telling.stdin.close()
        except BrokenPipeError:  # psql gave up, and has said why
            reading.kill()
            with suppress(BrokenPipeError):
                telling.stdin.close()
        is_read = telling.wait() == 0 and reading.wait() == 0
        if not is_read:
            raise BackupRefusedError(
                "PostgreSQL could not read this backup, and the database is as it was: "
                f"{_text(complaints)}"
            )


@contextmanager
def scratch_database() -> Iterator[str]:
    """Name of an empty database on the same server, dropped at the end.

    Raises:
        BackupRefusedError: this user may make none.
    """
    name = f"{connection.settings_dict['NAME']}_check_{secrets.token_hex(4)}"
    quoted = connection.ops.quote_name(name)
    with connection.cursor() as cursor:
        try:
            cursor.execute(f"CREATE DATABASE {quoted} TEMPLATE template0")
        except ProgrammingError as error:
            user = connection.ops.quote_name(connection.settings_dict["USER"])
            raise BackupRefusedError(
                "To check a backup it is read into a database made for that, and dropped after. "
                f"This user may not make one: ALTER ROLE {user} CREATEDB. ({error})"
            ) from error
    try:
        yield name
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {quoted}")


def loaded_state(database: str) -> DatabaseState:
    """What another database of the same server holds."""
    params = {**connection.get_connection_params(), "dbname": database}
    with closing(psycopg.connect(**params)) as other, other.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()")
        return database_state(cursor, [str(row[0]) for row in cursor.fetchall()])


def refuse_in_use() -> None:
    """See that nobody else is connected.

    Raises:
        BackupRefusedError: somebody is.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT COUNT(*) FROM pg_stat_activity WHERE datname = current_database()"
            " AND usename = current_user AND pid <> pg_backend_pid()"
        )
        others = int(cursor.fetchone()[0])
    if others:
        raise BackupRefusedError(
            f"The shop is running: {others} other connections to its database are open. End it "
            "first (systemctl stop lure-shop). Nothing was changed."
        )


def program_of(name: str) -> str:
    """The path of one of PostgreSQL's programs, of the server's major version.

    Raises:
        BackupRefusedError: there is none.
    """
    major = server_major()
    found = {}
    for folder in (None, *(each.format(major=major) for each in FOLDERS)):
        path = shutil.which(name, path=folder)
        if path is None:
            continue
        found[path] = _major_of(path)
        if found[path] == major:
            return path
    there = ", ".join(f"{path} is of {version}" for path, version in found.items())
    raise BackupRefusedError(
        f"This needs {name} of PostgreSQL {major}, like the server; "
        f"{there or 'there is none on this machine'}. Install the client programs of that version "
        f"(Debian: apt-get install postgresql-client-{major}), or put their folder on the PATH."
    )


def environment(database: str = "") -> dict[str, str]:
    """What tells PostgreSQL's programs where a database is, else the shop's, and how to come in."""
    settings = connection.settings_dict
    options: dict[str, Any] = settings.get("OPTIONS", {})
    told = {
        "PGHOST": settings["HOST"],
        "PGPORT": settings["PORT"],
        "PGUSER": settings["USER"],
        "PGPASSWORD": settings["PASSWORD"],
        "PGDATABASE": database or settings["NAME"],
        "PGCLIENTENCODING": "UTF8",
    }
    told |= {name: options[key] for key, name in ENVIRONMENT.items() if key in options}
    return {**os.environ, **{name: str(value) for name, value in told.items() if value}}


def _beginning(tables: list[str]) -> str:
    quoted = ", ".join(connection.ops.quote_name(table) for table in tables)
    drop = f"DROP TABLE {quoted} CASCADE;\n" if tables else ""
    return f"BEGIN;\nSET lock_timeout = '{LOCK_WAIT}';\nSET client_min_messages = error;\n{drop}"


def _major_of(program: str) -> int:
    asked = subprocess.run([program, "--version"], capture_output=True, text=True, check=False)  # noqa: S603
    number = re.search(r"\) (\d+)", asked.stdout)
    return int(number[1]) if number else 0


def _text(complaints: IO[bytes]) -> str:
    complaints.seek(0)
    return complaints.read().decode(errors="replace").strip()[-2000:] or "it did not say why"
