"""The run of lures of the trace's tests, and who asks."""

from __future__ import annotations

import pytest

from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import materials, returned, run  # noqa: F401 - fixtures


@pytest.fixture
def api(lead: User) -> floor.Caller:
    return floor.Caller(lead)
