"""A shop with released bills, and who asks."""

from __future__ import annotations

import pytest

from shopfloor.models import User
from tests.batches import floor


@pytest.fixture
def api(lead: User, released_bills: None) -> floor.Caller:
    return floor.Caller(lead)
