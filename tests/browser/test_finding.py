"""From a leak to a recall on the pages, and whether everybody can read them."""

from __future__ import annotations

from typing import Literal

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from batches.recall.models import Recall
from batches.watch.models import Alert
from inventory.stock.models import Disposition, Lot
from shopfloor.models import User
from tests.batches.conftest import (
    floor_ready,
    items,
    lead,
    owner,
    places,
    released_bills,
    stages,
)
from tests.batches.watch.conftest import (
    alert,
    good_lots,
    leaking,
    materials,
    two_pots,
    wheel,
)
from tests.browser.looking import Looker
from tests.pages import browse

# Fixtures of the rooms.
__all__ = [
    "alert",
    "floor_ready",
    "good_lots",
    "items",
    "lead",
    "leaking",
    "materials",
    "owner",
    "places",
    "released_bills",
    "stages",
    "two_pots",
    "wheel",
]

pytestmark = pytest.mark.django_db(transaction=True)

CLICKS = 5
"""From the first page to everything held."""


def sign_in(page: Page, live_server: LiveServer, person: User) -> None:
    """A session of theirs in this browser."""
    name = settings.SESSION_COOKIE_NAME
    value = browse(person).cookies[name].value
    page.context.add_cookies([{"name": name, "value": value, "url": live_server.url}])


def test_a_leak_is_followed_to_its_pot_and_everything_of_it_held_in_five_clicks(
    alert: Alert, leaking: Lot, lead: User, live_server: LiveServer, page: Page
) -> None:
    sign_in(page, live_server, lead)
    clicks = []

    def click(role: Literal["link", "button"], name: str) -> None:
        page.get_by_role(role, name=name).first.click()
        clicks.append(name)

    page.goto(f"{live_server.url}/")
    click("link", alert.code)
    click("link", "What the failures have in common")
    expect(page.locator(".said")).to_contain_text(f"With lot {leaking.code}")
    click("link", f"Begin a recall of {leaking.code}")
    click("button", "Look what is at risk")
    expect(page.locator("#risk")).to_contain_text("Nothing is held yet.")
    page.get_by_label("In earnest, or as a drill").select_option("real")
    page.get_by_label("Why", exact=True).fill("Bodies of this pot leak")
    click("button", "Begin it")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Recall")
    assert len(clicks) == CLICKS
    case = Recall.objects.get()
    assert [each.lot.code for each in case.lots.all()] == [leaking.code]
    left = Lot.objects.filter(item__code="BODY-70", on_hand_base__gt=0)
    held = left.filter(disposition=Disposition.HELD)
    assert held.count() == 3
    assert left.count() == 15


def test_what_is_found_is_accessible_and_fits_every_width(
    alert: Alert, leaking: Lot, lead: User, live_server: LiveServer, page: Page
) -> None:
    sign_in(page, live_server, lead)
    looker = Looker(page)
    wrong = {}
    for address in ("/", "/trace/causes/?defect=LEAK", f"/trace/?code={leaking.code}"):
        page.goto(f"{live_server.url}{address}")
        wrong[address] = looker.wrong()
    assert {address: found for address, found in wrong.items() if found} == {}
