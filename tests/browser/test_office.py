"""Office pages in a real browser: usable by everybody, and sheets mended without choosing anew."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from batches.packing.operations import Part, close_box, create_customer, pack_box
from batches.quality.operations import create_definition
from inventory.catalog.models import Place
from shopfloor.models import User
from tests.batches import floor
from tests.batches.floor import NOON, stamp_at, take_in
from tests.browser.test_bench import WAIT, sign_in

pytestmark = pytest.mark.django_db(transaction=True)

PAGES = (
    "/bills/",
    "/bills/HALF-L/",
    "/bills/HALF-L/compare/",
    "/bills/new/",
    "/boxes/BOX1/",
    "/shipments/new/?boxes=BOX1",
    "/check-definitions/GRIP/",
    "/checks/new/",
    "/people/",
    "/people/new/",
    "/shop/",
    "/books/",
    "/imports/new/",
    "/printings/new/?kind=boxes&codes=BOX1",
    "/scan/?code=half",
)


@pytest.fixture
def shop() -> User:
    """A shop with bills, a closed box, a customer and something to test; its owner."""
    owner = floor.enter_owner()
    floor.enter_places(by=owner)
    floor.enter_stages(by=owner)
    floor.enter_items(by=owner)
    floor.release_bills(by=owner)
    take_in("HALF-L", 900, worth="10", by=owner, lot_code="HALF-X")
    create_customer(code="HEN", name="A customer", stamp=stamp_at(owner))
    pack_box(code="BOX1", contents=[Part("HALF-X", 20)], stamp=stamp_at(owner))
    close_box(box_code="BOX1", stamp=stamp_at(owner))
    fields: dict[str, Any] = {
        "name": "Grip", "stage": "MOLDING", "kind": "pass_fail", "how_many": "fixed",
        "fixed_pieces": 5,
    }  # fmt: skip
    create_definition(code="GRIP", fields=fields, by=owner, at=NOON)
    return owner


@pytest.fixture
def desk(shop: User, page: Page, live_server: LiveServer) -> Page:
    """A PC at which the owner is signed in."""
    page.set_default_timeout(WAIT)
    expect.set_options(timeout=WAIT)
    sign_in(page.context, live_server.url, shop)
    return page


def test_office_pages_are_accessible_and_fit_every_width(
    desk: Page, live_server: LiveServer
) -> None:
    wrong = []
    for address in PAGES:
        answer = desk.goto(live_server.url + address)
        assert answer is not None
        assert answer.status == 200, address
        for scheme in ("light", "dark"):
            desk.emulate_media(color_scheme=scheme)
            found = Axe().run(desk)
            wrong += [(address, scheme, each["id"]) for each in found.response["violations"]]
        for width in (360, 800, 1440):
            desk.set_viewport_size({"width": width, "height": 900})
            if desk.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                wrong.append((address, "width", str(width)))
    assert wrong == []


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
