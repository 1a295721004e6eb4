"""Signing in and the first page, in a real browser: reachable, and usable by everybody."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from shopfloor.operations import create_first_owner
from tests.browser.looking import Looker

PASSWORD = "seven wet otters"
NOW = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def signed_in(live_server: LiveServer, page: Page) -> Page:
    create_first_owner(username="olga", display_name="Olga Owner", password=PASSWORD, at=NOW)
    page.goto(f"{live_server.url}/")
    page.get_by_label("Name").fill("olga")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{live_server.url}/")
    return page


def test_who_signs_in_sees_the_shop_today_and_the_way_to_the_api(signed_in: Page) -> None:
    assert "today" in signed_in.get_by_role("heading", level=1).inner_text()
    signed_in.get_by_role("link", name="What the API can do").click()
    signed_in.wait_for_url("**/api/docs/")


def test_a_new_shop_is_accessible_and_fits_every_width(signed_in: Page) -> None:
    looker = Looker(signed_in)
    signed_in.reload()
    assert looker.wrong() == []
