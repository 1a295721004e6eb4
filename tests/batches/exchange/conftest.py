"""A small shop out of its own sheets."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from batches.exchange.operations.importing import import_sheets
from shopfloor.models import User
from tests.batches.exchange.small import CLOCK, SMALL, checked
from tests.batches.floor import AS_DRAFT
from tests.kept import Kept

Imports = Callable[[Mapping[str, str]], None]


@pytest.fixture
def imports(owner: User) -> Imports:
    """Checks and posts sheets, as the owner."""

    def run(sheets: Mapping[str, str]) -> None:
        import_sheets(sheets=checked(sheets), by=owner, now=CLOCK.now, on_rows=lambda _: None)

    return run


SMALL_SHOP = Kept(lambda imports: imports(SMALL), first=AS_DRAFT)


@pytest.fixture
def small_shop(imports: Imports) -> None:
    SMALL_SHOP(imports=imports)
