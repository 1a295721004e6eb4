"""Whole tasks in a real browser, each by who does it in the shop."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from batches.labels.models import Printing
from batches.packing.models import Customer, Shipment
from batches.packing.operations import create_customer
from inventory.catalog.operations import create_supplier
from inventory.purchasing.models import Receipt
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.operations import set_password
from shopfloor.roles import Role
from tests.batches import floor
from tests.batches.floor import NOON, stamp_at, take_in
from tests.browser.test_bench import PASSWORD, WAIT, scan, sign_in
from tests.kept import Kept

pytestmark = pytest.mark.django_db(transaction=True)


def fill_shop(*, by: User) -> None:
    """Items, hooks and lures on the shelf, a supplier, a customer."""
    floor.enter_places(by=by)
    floor.enter_stages(by=by)
    floor.enter_items(by=by)
    create_supplier(code="NORTH", fields={"name": "North"}, by=by, at=NOON)
    create_customer(code="HEN", name="A customer", stamp=stamp_at(by))
    take_in("HOOK-6", 900, worth="10", by=by, lot_code="HOOKS-X", place_code="SHELF-A")
    take_in("LURE-70-PERCH", 40, worth="10", by=by, lot_code="LURES-X")


SHOP = Kept(fill_shop)
Desk = Callable[[Role], Page]


@pytest.fixture
def shop() -> User:
    """The shop; its owner."""
    owner = floor.enter_owner()
    SHOP(by=owner)
    return owner


@pytest.fixture
def desk(shop: User, page: Page, live_server: LiveServer) -> Desk:
    """A browser at which somebody of a role is signed in."""

    def signed_in(role: Role) -> Page:
        page.set_default_timeout(WAIT)
        expect.set_options(timeout=WAIT)
        sign_in(page.context, live_server.url, floor.enter_person(role, by=shop))
        return page

    return signed_in


def test_a_packer_receives_by_scanning_the_suppliers_label(
    desk: Desk, live_server: LiveServer
) -> None:
    page = desk(Role.PACKER)
    page.goto(f"{live_server.url}/receipts/new/")
    page.locator("[name=supplier]").fill("NORTH")
    page.locator("[name='lines.0.scan']").click()
    scan(page, "(241)HOOK-6(10)AX8(30)500")
    assert page.url.endswith("/receipts/new/")  # its Enter went on, and sent nothing
    page.locator("[name='lines.0.value']").fill("45.00")
    page.locator("[name='lines.0.place']").fill("NOWHERE")
    page.get_by_role("button", name="Receive it").click()
    expect(page.locator("[name='lines.0.place']")).to_have_attribute("aria-invalid", "true")
    page.locator("[name='lines.0.place']").fill("SHELF-A")
    page.get_by_role("button", name="Receive it").click()
    expect(page.locator(".notes")).to_contain_text("is received")
    [line] = Receipt.objects.get().lines.all()
    assert (line.lot.item.code, line.lot.supplier_lot_code) == ("HOOK-6", "AX8")
    assert line.lot.on_hand_base == 500
    stickers = page.get_by_role("link", name="Stickers").get_attribute("href") or ""
    answer = page.request.get(live_server.url + stickers)
    assert answer.headers["content-type"] == "application/pdf"


def test_a_bench_hand_counts_what_was_scanned_and_prints_its_sticker(
    desk: Desk, live_server: LiveServer
) -> None:
    page = desk(Role.BENCH)
    page.goto(f"{live_server.url}/")
    scan(page, "HOOKS-X")
    page.get_by_role("link", name="Count", exact=True).click()
    expect(page.locator("[name='lines.0.lot']")).to_have_value("HOOKS-X")
    page.locator("[name='lines.0.found.amount']").fill("880")
    page.get_by_role("button", name="Count", exact=True).click()
    expect(page.locator(".problem")).to_contain_text("880")
    page.locator("[name=reason]").fill("a box fell")
    page.get_by_role("button", name="Post the differences").click()
    expect(page.locator(".notes")).to_contain_text("The count is posted.")
    assert Lot.objects.get(code="HOOKS-X").on_hand_base == 880
    page.goto(f"{live_server.url}/printings/new/?kind=lots&codes=HOOKS-X")
    page.get_by_role("button", name="Make the file").click()
    expect(page.locator(".notes")).to_contain_text("open the file and print it")
    file = page.locator("a[href$='.pdf']").first.get_attribute("href") or ""
    assert page.request.get(live_server.url + file).headers["content-type"] == "application/pdf"
    assert Printing.objects.get().by.role == "bench"


def test_a_packer_packs_a_box_and_ships_it(desk: Desk, live_server: LiveServer) -> None:
    page = desk(Role.PACKER)
    page.goto(f"{live_server.url}/boxes/new/")
    page.locator("[name='contents.0.lot']").click()
    scan(page, "LURES-X")
    page.locator("[name='contents.0.pieces']").fill("24")
    page.get_by_role("button", name="Pack it").click()
    expect(page.locator(".notes")).to_contain_text("24 pieces")
    page.get_by_role("link", name="Close it").click()
    page.get_by_role("button", name="Close", exact=False).last.click()
    page.get_by_role("link", name="Ship it").click()
    page.locator("[name=customer]").fill("HEN")
    page.locator("[name=purpose]").select_option("sample")
    page.get_by_role("button", name="Ship it").click()
    expect(page.locator(".notes")).to_contain_text("Print its packing list.")
    assert Shipment.objects.get().customer.code == "HEN"


def test_a_viewer_follows_a_lot_and_is_offered_nothing_to_change(
    shop: User, desk: Desk, live_server: LiveServer
) -> None:
    page = desk(Role.VIEWER)
    page.goto(f"{live_server.url}/")
    scan(page, "HOOKS-X")
    expect(page.get_by_role("heading", level=1)).to_contain_text("HOOKS-X")
    offered = page.locator("main .acts a").all_inner_texts()
    assert offered == ["Trace it", "Sticker"]
    page.get_by_role("link", name="Trace it").click()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    answer = page.goto(f"{live_server.url}/receipts/new/")
    assert answer is not None
    assert answer.status == 403
    expect(page.locator("main")).to_contain_text("Ask the owner or a lead")


def test_what_a_lead_typed_is_there_again_after_a_sign_in_that_ended(
    shop: User, desk: Desk, live_server: LiveServer
) -> None:
    page = desk(Role.LEAD)
    set_password(username="lead", password=PASSWORD, by=shop, at=NOON)
    sign_in(page.context, live_server.url, User.objects.get(username="lead"))
    page.goto(f"{live_server.url}/customers/new/")
    page.locator("main [name=code]").fill("LAKE")
    page.locator("[name=name]").fill("The lake shop")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="customer").click()
    page.locator("[name=username]").fill("lead")
    page.locator("[name=password]").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("[name=name]")).to_have_value("The lake shop")
    page.get_by_role("button", name="customer").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("LAKE")
    assert Customer.objects.get(code="LAKE").name == "The lake shop"
