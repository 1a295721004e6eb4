"""Every page of the URL table, at addresses that lead to something in a shop where all happened."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from django.test import Client

from batches.exchange.operations.importing import import_sheets
from shopfloor.access import every_address
from shopfloor.models import User
from shopfloor.operations.tokens import issue_token
from shopfloor.roles import Role
from tests.batches import floor
from tests.batches.exchange.moving import everything_happens
from tests.batches.exchange.small import CLOCK, SMALL, checked

NO_PAGES: Final = ("/api/", "/health/", "/sign-in/")
NAMES: Final = ("code", "posting", "id", "username", "number", "item")
"""What a row of a list is called in addresses: the first that it has."""

MARCH: Final = "first_on=2026-03-01&last_on=2026-03-31"
CHOSEN: Final[Mapping[str, Sequence[str]]] = {
    "/": [""],
    "/00/{number}": ["/00/{sscc}"],
    "/01/{number}": ["/01/{gtin}"],
    "/01/{number}/10/{lot}": ["/01/{gtin}/10/RG1"],
    "/batches/{code}/": ["/batches/RW1/", "/batches/GL1/", "/batches/MD2/"],
    "/bench/{stage}/": ["/bench/RIG/", "/bench/MOLD/"],
    "/bench/{stage}/{batch}/": ["/bench/RIG/RW1/", "/bench/RIG/RG1/"],
    "/bench/{stage}/{batch}/lots/": ["/bench/RIG/RG1/lots/?good=5"],
    "/bench/{stage}/{batch}/scan/": ["/bench/RIG/RG1/scan/?code=HOOK-1"],
    "/bills/{item}/revisions/{number}/": ["/bills/HALF/revisions/2/"],
    "/bills/{item}/revisions/{number}/change/": ["/bills/HALF/revisions/2/change/"],
    "/bills/{item}/revisions/{number}/release/": ["/bills/HALF/revisions/2/release/"],
    "/bills/{item}/revisions/{number}/retire/": ["/bills/HALF/revisions/1/retire/"],
    "/books/": ["/books/", "/books/?from=2026-03-01&to=2026-03-31"],
    "/checks/chart/": ["/checks/chart/", "/checks/chart/?definition=WEIGH&" + MARCH],
    "/checks/new/": ["/checks/new/", "/checks/new/?definition=DUNK&batch=GL1"],
    "/checks/plan/": ["/checks/plan/?definition=DUNK&batch=GL1"],
    "/choices/{folder}/": ["/choices/lots/?lot=H", "/choices/items/?item=H"],
    "/planning/buildable/": ["/planning/buildable/", "/planning/buildable/?item=BODY"],
    "/planning/starting/": ["/planning/starting/", "/planning/starting/?item=BODY&good=20"],
    "/printings/new/": ["/printings/new/", "/printings/new/?kind=boxes&codes=BX1"],
    "/problems/{code}": ["/problems/invalid_input"],
    "/recalls/new/": ["/recalls/new/", "/recalls/new/?lots=HOOK-1"],
    "/s/{number}": [],  # of a lot without a GTIN: the same door as /01/
    "/scan/": ["/scan/?code=HOOK-1", "/scan/?code=hook"],
    "/shipments/new/": ["/shipments/new/", "/shipments/new/?boxes=BX1"],
    "/trace/": ["/trace/", *(f"/trace/?code={each}" for each in ("ADHA-1", "GL1", "BX1"))],
    "/trace/causes/": ["/trace/causes/", "/trace/causes/?defect=LEAK"],
}
"""Where a list cannot tell what leads somewhere, or more than one page stands at an address."""


def fill_shop() -> User:
    """A shop in which everything happened; its owner."""
    owner = floor.enter_owner()
    bench = floor.enter_person(Role.BENCH, by=owner)
    import_sheets(sheets=checked(SMALL), by=owner, now=CLOCK.now, on_rows=lambda _: None)
    everything_happens(owner, bench)
    issue_token(username=owner.username, name="scale", by=owner, at=CLOCK.now)
    return owner


def pages(client: Client) -> Iterator[str]:
    """An address or more of every page that this person may see."""
    shop = _Shop(client)
    for pattern, view in every_address():
        if "GET" in getattr(view, "roles", {}) and not pattern.startswith(NO_PAGES):
            yield from map(shop.filled, CHOSEN.get(pattern, [pattern]))


class _Shop:
    """What the lists of the API say, each asked once."""

    def __init__(self, client: Client) -> None:
        self._client = client
        self._rows: dict[str, list[Mapping[str, Any]]] = {}

    def filled(self, pattern: str) -> str:
        """An address with the numbers of what there is."""
        numbers = {"{sscc}": ("boxes", "sscc"), "{gtin}": ("items", "gtin")}
        for mark, (folder, name) in numbers.items():
            if mark in pattern:
                return pattern.replace(mark, self._first(folder, [name]))
        found = re.match(r"/(.+?)/(\{\w+\})", pattern)
        return pattern.replace(found[2], self._first(found[1], NAMES)) if found else pattern

    def _first(self, folder: str, names: Sequence[str]) -> str:
        if folder not in self._rows:
            self._rows[folder] = self._client.get(f"/api/v1/{folder}/").json()["results"]
        said = (row.get(name) for row in self._rows[folder] for name in names)
        return next(str(each["code"] if isinstance(each, dict) else each) for each in said if each)
