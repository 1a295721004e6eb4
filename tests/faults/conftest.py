"""A furnished shop, made once, and a copy of it for each test; on the database of the tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from tests.faults.shops import Shop, copy_of, new_shop, remove


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The original; nobody serves it."""
    shop = new_shop(folder=tmp_path_factory.mktemp("furnished"), server=_server())
    yield shop
    remove(shop)


@pytest.fixture
def other_shop(furnished: Shop, tmp_path: Path) -> Iterator[Shop]:
    """A shop of the test's own, beside the test database."""
    shop = copy_of(furnished, folder=tmp_path)
    yield shop
    remove(shop)


def _server() -> str:
    if connection.vendor == "sqlite":
        return ""
    kept = connection.settings_dict
    return f"postgres://{kept['USER']}:{kept['PASSWORD']}@{kept['HOST']}:{kept['PORT']}"
