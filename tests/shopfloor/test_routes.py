"""Addresses by their first word lead where the same addresses in turn lead."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import Resolver404, URLResolver, get_resolver, include, path
from django.urls.resolvers import RegexPattern

from shopfloor.access import every_address
from shopfloor.api.root import API_ROOT
from shopfloor.routes import by_first_word

FLOORS = ("shopfloor", "inventory", "batches")
API = [
    path("", include(f"{floor}.{'api' if floor == 'shopfloor' else 'urls'}")) for floor in FLOORS
]


def led(routes: list[Any], address: str) -> Any:
    match = URLResolver(RegexPattern(r"^"), routes).resolve(address)
    return match.func, match.kwargs


def test_every_address_leads_to_its_own_door() -> None:
    grouped = by_first_word(API)
    addresses = [
        re.sub(r"\{\w+\}", "7", address.removeprefix(f"/{API_ROOT}"))
        for address, _ in every_address()
        if address.startswith(f"/{API_ROOT}")
    ]
    assert len(addresses) > 100
    for address in addresses:
        assert led(grouped, address) == led(API, address), address


def test_what_is_nowhere_stays_so() -> None:
    for address in ("lots", "lots//", "lot/", "lots/7/8/9/", "/lots/"):
        with pytest.raises(Resolver404):
            led(by_first_word(API), address)


def test_few_are_tried_for_any_address() -> None:
    for known in (get_resolver().url_patterns, by_first_word(API)):
        assert len(known) < 80
