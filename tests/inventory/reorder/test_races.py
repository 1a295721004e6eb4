"""Two people decide about one item at once, each with a connection of their own."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connections

from inventory.catalog.models import Item
from inventory.reorder.models import ReorderPolicy
from shopfloor.models import Change, User
from tests.inventory.reorder.conftest import set_policy
from tests.needs import need_threads


@pytest.mark.django_db(transaction=True)
def test_what_several_people_set_at_once_all_stands_and_one_of_them_began(
    lead: User, hook: Item
) -> None:
    need_threads()

    def decide(field: str) -> None:
        try:
            fields: dict[str, Any] = {field: 1}
            set_policy(lead, **fields)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(decide, ["review_days", "order_cost_micro"]))
    policy = ReorderPolicy.objects.get(item=hook)
    assert (policy.review_days, policy.order_cost_micro) == (1, 1)
    changes = Change.objects.filter(table="inventory_reorderpolicy")
    assert [change.before is None for change in changes.order_by("pk")] == [True, False]
