"""From the first page to a supplier order on the pages."""

from __future__ import annotations

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from inventory.catalog.models import Offer
from inventory.purchasing.models import SupplierOrder
from shopfloor.models import User
from tests.inventory.conftest import hook, hook_offer, lead, owner, shelf, supplier
from tests.inventory.reorder.conftest import hooks_used_daily
from tests.pages import browse

__all__ = ["hook", "hook_offer", "lead", "owner", "shelf", "supplier"]  # fixtures of the rooms

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_is_due_is_ordered_in_two_clicks(
    hook_offer: Offer, lead: User, live_server: LiveServer, page: Page
) -> None:
    hooks_used_daily(lead, 300)
    name = settings.SESSION_COOKIE_NAME
    value = browse(lead).cookies[name].value
    page.context.add_cookies([{"name": name, "value": value, "url": live_server.url}])
    page.goto(f"{live_server.url}/")
    expect(page.locator("#due-lines")).to_contain_text("HOOK-6")  # it came after the page
    page.get_by_role("link", name="Order what is due").click()
    page.get_by_role("button", name="Order what is ticked").click()
    expect(page.locator(".notes")).to_contain_text("Ordered:")
    [line] = SupplierOrder.objects.get().lines.all()
    assert (line.item.code, line.packs > 0) == ("HOOK-6", True)
