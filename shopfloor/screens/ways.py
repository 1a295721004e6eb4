"""The ways through the shop that stand beside every page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

from django.http import HttpRequest

# Pages of the floors above, by their addresses: imports only point down.
_WAYS: Final[Sequence[tuple[str, Sequence[tuple[str, str]]]]] = (
    ("", (("Today", "/"), ("Bench", "/bench/"))),
    (
        "Stock",
        (
            ("Lots", "/lots/"),
            ("Receipts", "/receipts/"),
            ("What to count", "/counting/"),
            ("Counts", "/counts/"),
            ("Holds", "/holds/"),
            ("Items", "/items/"),
        ),
    ),
    (
        "Buying",
        (
            ("What to order", "/planning/suggested-orders/"),
            ("Reorder", "/reorder/"),
            ("Supplier orders", "/supplier-orders/"),
            ("Suppliers", "/suppliers/"),
        ),
    ),
    (
        "Making",
        (
            ("Batches", "/batches/"),
            ("Entries", "/entries/"),
            ("Bills of materials", "/bills/"),
        ),
    ),
    (
        "Planning",
        (
            ("Build plans", "/build-plans/"),
            ("Requirements", "/planning/requirements/"),
            ("Promised", "/planning/promises/"),
            ("What can be built", "/planning/buildable/"),
            ("The best mix", "/planning/buildable/mix/"),
            ("How many to start", "/planning/starting/"),
        ),
    ),
    (
        "Finding out",
        (
            ("Trace", "/trace/"),
            ("Causes", "/trace/causes/"),
            ("Checks", "/checks/"),
            ("Alerts", "/alerts/"),
            ("Complaints", "/complaints/"),
            ("Recalls", "/recalls/"),
        ),
    ),
    (
        "Shipping",
        (
            ("Customer orders", "/customer-orders/"),
            ("Boxes", "/boxes/"),
            ("Shipments", "/shipments/"),
            ("Returns", "/customer-returns/"),
            ("Customers", "/customers/"),
        ),
    ),
    ("The shop", (("Set-up and records", "/shop/"),)),
)


class Way(NamedTuple):
    """One page to go to."""

    label: str
    address: str
    is_here: bool


def ways(request: HttpRequest) -> dict[str, Any]:
    """A context processor: the groups of pages, and which of them this page belongs to."""
    return {"ways": lambda: list(_groups(request.path))}


def _groups(here: str) -> Iterator[tuple[str, list[Way]]]:
    every = [address for _, pages in _WAYS for _, address in pages]
    fitting = [each for each in every if here.startswith(each) and each != "/"]
    best = max(fitting, key=len, default=here)
    for heading, pages in _WAYS:
        yield heading, [Way(label, address, address == best) for label, address in pages]
