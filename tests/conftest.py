"""What every test stands on: a fixed shop, a flush that passes the triggers, a quiet browser.

And shops with a folder, a database and processes of their own, for whoever asks for one.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import pytest
from django.core.management.commands import flush
from django.db import connection
from django.db.models.signals import post_migrate  # noqa: TID251 - one of the two
from django.test import override_settings
from hypothesis import settings

from shopfloor import append_only
from tests.faults.shops import Shop, bare, copy_of, furnish, remove
from tests.needs import need_program

# Playwright runs an event loop in the thread that also asks the database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# The same examples on every machine and on every day; `--hypothesis-profile=explore` looks for
# others. No deadline: a machine that is busy is not a mistake.
settings.register_profile("house", derandomize=True, deadline=None)
settings.register_profile("explore", settings.get_profile("house"), derandomize=False)
settings.load_profile("house")

PERMISSIONS: Final = "django.contrib.auth.management.create_permissions"

# Fixtures that stand on the database of the run; on the last stand whole shops.
DATABASES: Final = frozenset({"db", "transactional_db", "test_server"})


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is about the other database; pytest counts it as deselected."""
    kept: list[pytest.Item] = []
    left_out: list[pytest.Item] = []
    for item in items:
        (left_out if _is_elsewhere(item) else kept).append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = kept


def _is_elsewhere(item: pytest.Item) -> bool:
    """Whether a test is about the other database, or hangs on none and is tried beside the other.

    Where both are tried, pages are looked at with SQLite alone: what they show comes from the API's
    doors, which are asked on both. What no database has a part in runs with PostgreSQL alone.
    """
    about = item.get_closest_marker("only_on")
    if about is not None:
        return connection.vendor not in about.args
    if os.environ.get("SHOP_NOTHING_SKIPPED") != "1":
        return False
    is_of_pages = item.path.stem.endswith("pages") or item.path.parent.name == "browser"
    where = "sqlite" if is_of_pages else None if _asks_a_database(item) else "postgresql"
    return where not in {None, connection.vendor}


def _asks_a_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(fixtures & DATABASES)


def pytest_collection_finish() -> None:
    """Look for garbage seldom, and not among all that is loaded: it took a twelfth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where nothing may be skipped, a skip that went past `needs.py` fails the whole run."""
    reporter: Any = session.config.pluginmanager.get_plugin("terminalreporter")
    is_forbidden = os.environ.get("SHOP_NOTHING_SKIPPED") == "1"
    if is_forbidden and reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session", autouse=True)
def settings_of_the_tests(
    tmp_path_factory: pytest.TempPathFactory, django_test_environment: None
) -> Iterator[None]:
    """The same shop on every machine, in a zone whose days are not those of UTC."""
    with override_settings(
        MEDIA_ROOT=tmp_path_factory.mktemp("uploads"),
        PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"],
        SHOP_CURRENCY="USD",
        SHOP_ADDRESS="",
        SHOP_GS1_PREFIX="9521234",  # for demonstrations and examples only
        SHOP_IS_DEMO=False,
        SHOP_NAME="Test shop",
        SHOP_TIME_ZONE="America/Chicago",
        # Else every client of every test looks at all static files anew, a quarter of all time.
        WHITENOISE_AUTOREFRESH=True,
        SHOP_WATCH_BY_HAND=True,  # a thread would look into a database that is emptied meanwhile
    ):
        yield


@pytest.fixture(scope="session", autouse=True)
def flush_past_the_triggers() -> Iterator[None]:
    """Let `transaction=True` tests be flushed: append-only tables refuse it otherwise.

    On SQLite the triggers go, everything is emptied, the triggers come back from the same list;
    on PostgreSQL they sleep meanwhile. The product has no such way. Rows that stand from the start
    come back as after any flush: by `post_migrate`.
    """
    post_migrate.disconnect(dispatch_uid=PERMISSIONS)  # slow, and nobody has any
    plain = flush.Command.handle

    def handle(self: flush.Command, **options: Any) -> None:
        append_only.drop_triggers(options["database"])
        try:
            plain(self, **options)
        finally:
            append_only.install_triggers(options["database"])

    with pytest.MonkeyPatch.context() as patch:
        if connection.vendor == "sqlite":
            patch.setattr(flush.Command, "handle", handle)
        else:

            def sql_flush(style: Any, tables: Sequence[str], **options: Any) -> list[str]:
                statements = _sql_of_filled(tables)
                if options.get("reset_sequences"):
                    numbers = connection.introspection.sequence_list()
                    statements += connection.ops.sequence_reset_by_name_sql(style, numbers)
                return statements

            patch.setattr(connection.ops, "sql_flush", sql_flush)
        yield


def _sql_of_filled(tables: Sequence[str]) -> list[str]:
    """Statements that empty the tables that hold something: to truncate all takes half a second."""
    names = [connection.ops.quote_name(table) for table in tables]
    asked = ", ".join(f"EXISTS (SELECT 1 FROM {name})" for name in names)  # noqa: S608 - our tables
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {asked}")
        found = zip(names, cursor.fetchone() or (), strict=True)
    filled = [name for name, is_filled in found if is_filled]
    return [
        *(f"ALTER TABLE {name} DISABLE TRIGGER USER" for name in filled),
        *(f"DELETE FROM {name}" for name in filled),  # noqa: S608
        "SET CONSTRAINTS ALL IMMEDIATE",
        *(f"ALTER TABLE {name} ENABLE TRIGGER USER" for name in filled),
    ]


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """The system's own chromium, quiet: no download, no talk to anyone."""
    chromium = need_program("chromium", package="chromium")
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    quiet += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    return {**browser_type_launch_args, "executable_path": chromium, "args": quiet}


@pytest.fixture(scope="session")
def test_server() -> str:
    """Where the database of the tests is, as `shops.bare` has it."""
    if connection.vendor == "sqlite":
        return ""
    kept = connection.settings_dict
    return f"postgres://{kept['USER']}:{kept['PASSWORD']}@{kept['HOST']}:{kept['PORT']}"


@pytest.fixture
def bare_shop(tmp_path_factory: pytest.TempPathFactory, test_server: str) -> Iterator[Shop]:
    """A new machine."""
    shop = bare(folder=tmp_path_factory.mktemp("bare"), server=test_server)
    yield shop
    remove(shop)


@pytest.fixture(scope="session")
def migrated_shop(tmp_path_factory: pytest.TempPathFactory, test_server: str) -> Iterator[Shop]:
    """A shop in which nobody entered anything; nobody serves or changes it."""
    shop = bare(folder=tmp_path_factory.mktemp("migrated"), server=test_server)
    shop.run("manage.py", "migrate", "--skip-checks", "--verbosity=0")
    yield shop
    remove(shop)


@pytest.fixture(scope="session")
def furnished(migrated_shop: Shop, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """A furnished one; nobody serves or changes it."""
    shop = furnish(copy_of(migrated_shop, folder=tmp_path_factory.mktemp("furnished")))
    yield shop
    remove(shop)


@pytest.fixture
def other_shop(furnished: Shop, tmp_path: Path) -> Iterator[Shop]:
    """A furnished shop of the test's own, beside the test database."""
    shop = copy_of(furnished, folder=tmp_path)
    yield shop
    remove(shop)
