"""What holds whatever happened: tried on invented histories, through the ledger."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.catalog.operations import create_item, create_offer, create_place, create_supplier
from inventory.purchasing.operations import receive_delivery
from inventory.purchasing.steps import ReceiptLineDraft
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from tests.examples import ledgers
from tests.inventory.conftest import NOON, stamp_at
from tests.inventory.reorder.conftest import (
    TODAY,
    hold_lot_of,
    row_of,
    shop_time,
    use_every_day,
)

use_by_day = st.lists(st.sampled_from([0, 0, 5, 40, 100]), min_size=30, max_size=30)
deliveries = st.lists(
    st.tuples(
        st.integers(1, 3000),  # milliliters
        st.integers(0, 29),  # days ago
        st.none() | st.integers(0, 60),  # days from now that it lasts
        st.sampled_from(["released", "quarantined"]),
    ),
    max_size=4,
)


def receive(
    by: User, milliliters: int, days_ago: int, lasts_days: int | None, disposition: str
) -> None:
    expires_on = None if lasts_days is None else TODAY + timedelta(days=lasts_days)
    line = ReceiptLineDraft(
        item_code="PAINT",
        amount=Amount(Decimal(milliliters), "mL"),
        value_micro=0,
        expires_on=expires_on,
        disposition=disposition,
    )
    at = shop_time(TODAY - timedelta(days=days_ago), 12)
    receive_delivery(supplier_code="PAINTS", lines=[line], stamp=stamp_at(by, at))


class ReceivingTests(TestCase):
    """A delivery that answers no order, so that it tells nothing about lead times."""

    def setUp(self) -> None:  # noqa: D102 - unittest names it
        create_first_owner(username="owner", display_name="The owner", password=None, at=NOON)
        self.owner = User.objects.get(username="owner")
        by: Any = {"by": self.owner, "at": NOON}
        create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, **by)
        create_supplier(code="PAINTS", fields={"name": "The paint supplier"}, **by)
        create_item(
            code="PAINT",
            fields={
                "name": "Paint",
                "kind": "paint",
                "dimension": "volume",
                "display_unit": "mL",
                "storage_place": "SHELF",
            },
            **by,
        )
        create_offer(
            supplier_code="PAINTS",
            item_code="PAINT",
            pack=Amount(Decimal(500), "mL"),
            fields={"lead_time_days": 14},
            **by,
        )

    @ledgers(60)
    @given(use=use_by_day, there=deliveries, more=deliveries.filter(bool))
    def test_receiving_more_never_makes_an_item_due_sooner(  # noqa: D102 - it is the sentence
        self,
        use: list[int],
        there: list[tuple[int, int, int | None, str]],
        more: list[tuple[int, int, int | None, str]],
    ) -> None:
        hold_lot_of(self.owner, sum(use) * 1000 + 1, code="USED", item="PAINT", at=NOON)
        use_every_day(self.owner, [each * 1000 for each in use], lot="USED")
        for delivery in there:
            receive(self.owner, *delivery)
        before = row_of("PAINT")
        for delivery in more:
            receive(self.owner, *delivery)
        after = row_of("PAINT")
        assert after.position_base >= before.position_base
        assert after.reorder_point_base == before.reorder_point_base
        assert before.is_due or not after.is_due
        assert (after.days_left or 0) >= (before.days_left or 0)
