"""What a person set about planning an item."""

from __future__ import annotations

from batches.planning.models import PlanningPolicy
from inventory.catalog.selectors import item


def policy_row(code: str) -> PlanningPolicy:
    """Of one item; one that says nothing where nothing was set. At most two statements.

    Raises:
        NotFoundError: no such item.
    """
    of_item = item(code)
    policy = PlanningPolicy.objects.filter(pk=of_item.pk).first() or PlanningPolicy(item=of_item)
    policy.item = of_item
    return policy
