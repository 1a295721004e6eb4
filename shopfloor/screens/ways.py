"""The ways through the shop that stand beside every page."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any, Final, NamedTuple

from django.http import HttpRequest
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

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
    """A context processor: the pages to go to, drawn, with this one marked."""
    return {"ways": _drawn(_way_of(request.path))}


def _way_of(here: str) -> str:
    """The address among the ways to which a page belongs; empty where it belongs to none."""
    every = [address for _, pages in _WAYS for _, address in pages]
    fitting = [each for each in every if here == each or (each != "/" and here.startswith(each))]
    return max(fitting, key=len, default="")


@cache
def _drawn(here: str) -> SafeString:
    """The same on every page of a way; to draw it took a third of a short page."""
    groups = [
        (heading, [Way(label, address, address == here) for label, address in pages])
        for heading, pages in _WAYS
    ]
    return render_to_string("shopfloor/_nav.html", {"groups": groups})
