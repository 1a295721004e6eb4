"""Two people at once, each with a connection of their own."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import change_offer, create_item, create_offer
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import cancel_supplier_order, place_supplier_order
from inventory.purchasing.selectors import open_order_base
from inventory.purchasing.steps import OrderLineDraft
from shopfloor.errors import ConflictError
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.purchasing.conftest import each, hooks, receive
from tests.needs import need_threads

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*jobs: Callable[[], object]) -> list[str]:
    """Run the jobs together; the class of what each answered or was refused with."""

    def run(job: Callable[[], object]) -> str:
        try:
            return type(job()).__name__
        except ConflictError as refused:
            return type(refused).__name__
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return sorted(pool.map(run, jobs))


def test_two_halves_received_at_once_close_the_order(lead: User, order: SupplierOrder) -> None:
    need_threads()
    at_once(*[lambda: receive(lead, hooks(1250), order=order)] * 4)
    order.refresh_from_db()
    assert (order.state, order.lines.get().is_closed) == ("closed", True)
    assert open_order_base(on=LATER.date()) == {}


def test_an_order_is_received_or_cancelled_never_both(lead: User, order: SupplierOrder) -> None:
    need_threads()
    cancelling = stamp_at(lead, LATER, reason="late")
    outcome = at_once(
        lambda: receive(lead, hooks(1), order=order),
        lambda: cancel_supplier_order(order_code=order.code, stamp=cancelling),
    )
    assert outcome in (
        ["OrderNotOpenError", "SupplierOrder"],
        ["OrderReceivedError", "Receipt"],
    )


def test_one_offer_is_preferred_whoever_comes_first(
    lead: User, supplier: Supplier, hook: Item
) -> None:
    need_threads()
    for pieces in (100, 200, 300):
        create_offer(
            supplier_code="HOOKS",
            item_code="HOOK-6",
            pack=each(pieces),
            fields={},
            by=lead,
            at=NOON,
        )
    at_once(
        *[
            lambda pieces=pieces: change_offer(
                supplier_code="HOOKS",
                item_code="HOOK-6",
                pack=each(pieces),
                fields={"is_preferred": True},
                by=lead,
                at=LATER,
            )
            for pieces in (100, 200, 300)
        ]
    )
    assert Offer.objects.filter(is_preferred=True).count() == 1


def test_a_code_entered_twice_at_once_is_refused_once(lead: User) -> None:
    need_threads()
    outcome = at_once(
        *[
            lambda: create_item(
                code="TWIN",
                fields={
                    "name": "Twin",
                    "kind": "other",
                    "dimension": "count",
                    "display_unit": "each",
                },
                by=lead,
                at=NOON,
            )
        ]
        * 2
    )
    assert outcome == ["DuplicateCodeError", "Item"]


def test_an_order_number_given_twice_at_once_is_refused_once(lead: User, hook_offer: Offer) -> None:
    need_threads()
    outcome = at_once(
        *[
            lambda: place_supplier_order(
                supplier_code="HOOKS",
                code="PO-7",
                lines=[OrderLineDraft(item_code="HOOK-6", packs=5)],
                stamp=stamp_at(lead),
            )
        ]
        * 4
    )
    assert outcome == ["DuplicateCodeError"] * 3 + ["SupplierOrder"]
