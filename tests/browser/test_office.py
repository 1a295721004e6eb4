"""Sheets in a real browser: mended without choosing them anew."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from inventory.catalog.models import Place
from tests.batches import floor
from tests.browser.test_bench import WAIT, sign_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def desk(page: Page, live_server: LiveServer) -> Page:
    """A PC at which the owner is signed in."""
    page.set_default_timeout(WAIT)
    expect.set_options(timeout=WAIT)
    sign_in(page.context, live_server.url, floor.enter_owner())
    return page


def test_a_sheet_is_checked_mended_and_imported_without_leaving_the_page(
    desk: Page, live_server: LiveServer, tmp_path: Path
) -> None:
    sheet = tmp_path / "places.csv"
    sheet.write_text("code,name,kind\nSHELF-9,Shelf nine,cupboard\n")
    desk.goto(f"{live_server.url}/imports/new/")
    desk.set_input_files("#files", sheet)
    desk.get_by_role("button", name="Check them").click()
    expect(desk.locator("td.off")).to_contain_text("cupboard")
    sheet.write_text("code,name,kind\nSHELF-9,Shelf nine,shelf\n")
    desk.set_input_files("#files", sheet)
    desk.get_by_role("button", name="Check them").click()
    desk.get_by_role("button", name="Import these 1 rows").click()
    desk.wait_for_url(re.compile(r"/imports/\d+/$"))
    assert Place.objects.get(code="SHELF-9").name == "Shelf nine"
