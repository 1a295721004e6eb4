"""The bench in a real browser: runs recorded by taps and scans, on a network that fails."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, Route, expect
from pytest_django.live_server_helper import LiveServer

from batches.bills.models import BillRevision, RevisionState
from batches.runs.models import Batch, Entry, EntryTally
from batches.runs.operations import add_scrap_reason, plan, start_batch
from batches.runs.steps.batches import BatchPlan
from inventory.catalog.operations import create_equipment
from inventory.stock.models import Movement
from inventory.stock.operations import hold_lot
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.sessions import SIGNED_IN_AT
from tests.batches import floor
from tests.batches.floor import NOON, stamp_at, take_in
from tests.browser.looking import Looker
from tests.kept import Kept

pytestmark = pytest.mark.django_db(transaction=True)

PASSWORD = "seven wet otters"
TAPS_MOST = 12
QUIET = 600  # milliseconds; longer than the page waits after a tap
WAIT = 30_000  # milliseconds; nothing here is about speed
SHELF = {
    "RESIN": 90_000_000,
    "COLORANT": 9_000_000,
    "HALF-L": 900,
    "HALF-R": 900,
    "GLUE": 900_000,
    "RATTLE": 2_000,
    "BODY-70": 500,
    "PAINT-BASE": 9_000_000,
    "PAINT-GREEN": 9_000_000,
    "THINNER": 9_000_000,
    "PAINTED-70-PERCH": 900,
    "EYE": 900,
    "RING": 900,
    "HOOK-6": 900,
    "LURE-70-PERCH": 900,
    "BLISTER": 900,
    "INSERT": 900,
}
"""Base units of each item that is on the shelves; hangers come in lots of their own."""


def fill_shop(*, by: User) -> None:
    """Bills and full shelves, a wheel of twelve stations, a mold of four cavities."""
    floor.enter_places(by=by)
    floor.enter_stages(by=by)
    floor.enter_items(by=by)
    floor.release_bills(by=by)
    for code, kind, part, parts in (
        ("WHEEL-1", "wheel", "station", 12),
        ("MOLD-1", "mold", "cavity", 4),
    ):
        create_equipment(
            code=code, name=code, kind=kind, by=by, at=NOON, part_kind=part, part_count=parts
        )
    for code, name, stage in (
        ("LEAK", "Leak along the seam", "GLUING"),
        ("SHORT", "Short shot", "MOLDING"),
        ("RUNS", "Runs in the paint", "PAINTING"),
        ("PULLS", "Hook pulls out", "RIGGING"),
        ("TORN", "Blister torn", "BOXING"),
    ):
        add_scrap_reason(code=code, name=name, by=by, at=NOON, stage_code=stage)
    for item, qty_base in SHELF.items():
        take_in(item, qty_base, worth="10", by=by, lot_code=f"{item}-X")


SHOP = Kept(fill_shop, first={BillRevision: {"state": RevisionState.DRAFT, "released_at": None}})


@pytest.fixture
def shop() -> User:
    """The shop; its owner."""
    create_first_owner(username="owner", display_name="Olga", password=PASSWORD, at=NOON)
    owner = User.objects.get(username="owner")
    SHOP(by=owner)
    return owner


def hangers(by: User, code: str, pieces: int = 3000) -> None:
    take_in("HANGER", pieces, worth="10", by=by, lot_code=code)


def running(by: User, item: str, pieces: int = 100) -> Batch:
    batch = plan(plan=BatchPlan(item_code=item, planned_base=pieces), stamp=stamp_at(by))
    return start_batch(batch_code=batch.code, stamp=stamp_at(by))


def sign_in(context: BrowserContext, url: str, person: User) -> None:
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session[SIGNED_IN_AT] = timezone.now().isoformat()
    session.create()
    context.add_cookies([{"name": "sessionid", "value": session.session_key or "", "url": url}])


def wait_for_quiet(page: Page) -> None:
    """Until the page asks nothing: what it still asks would meet the next test's database."""
    before = -1
    while (asked := page.evaluate("performance.getEntriesByType('resource').length")) != before:
        before = asked
        page.wait_for_timeout(QUIET)


@pytest.fixture
def ben(shop: User) -> User:
    """Somebody at the bench."""
    create_person(
        username="ben", display_name="Ben", role=Role.BENCH, password=PASSWORD, by=shop, at=NOON
    )
    return User.objects.get(username="ben")


@pytest.fixture
def tablet(ben: User, page: Page, live_server: LiveServer) -> Iterator[Page]:
    """A tablet at which somebody of the bench is signed in."""
    page.set_viewport_size({"width": 800, "height": 1280})
    page.set_default_timeout(WAIT)
    expect.set_options(timeout=WAIT)
    sign_in(page.context, live_server.url, ben)
    yield page
    wait_for_quiet(page)


Taps = Callable[..., None]


@pytest.fixture
def tap(tablet: Page) -> Taps:
    """Taps one after the other, by what is written on them; `tap.count` says how many."""

    def tap_all(*names: str) -> None:
        for name in names:
            tap_all.count += 1  # type: ignore[attr-defined]
            tablet.locator(name).first.click()

    tap_all.count = 0  # type: ignore[attr-defined]
    return tap_all


def scan(tablet: Page, code: str) -> None:
    """As a scanner types: at once, then Enter, wherever the focus is."""
    tablet.keyboard.type(code, delay=2)
    tablet.keyboard.press("Enter")


def saved(tablet: Page) -> None:
    expect(tablet.locator("#kept .yes")).to_contain_text("Saved: E-")


def count(name: str) -> str:
    return f"[data-count='{name}']"


def key(digit: str) -> str:
    return f"[data-key='{digit}']"


def taken_of(entry: Entry) -> dict[str, int]:
    rows = Movement.objects.filter(posting=entry.posting_id, qty_base__lt=0)
    return {row.lot.code: -row.qty_base for row in rows.select_related("lot")}


def test_gluing_is_recorded_with_a_leak_at_its_station_and_undone(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1")
    hangers(shop, "HANG-2")
    hangers(shop, "HANG-HELD")
    hold_lot(lot_code="HANG-HELD", stamp=stamp_at(shop, reason="bent"))
    batch = running(shop, "BODY-70")
    tablet.goto(f"{live_server.url}/bench/")
    tap("text=Gluing", f".choose a:has-text('{batch.code}')")
    expect(tablet.locator("#lots")).to_contain_text("HANG-1")
    scan(tablet, "HANG-HELD")
    expect(tablet.locator("#taken .unfit")).to_contain_text("held")
    scan(tablet, "PAINT-BASE-X")
    expect(tablet.locator("#taken .unfit").first).to_contain_text("does not ask for PAINT-BASE")
    scan(tablet, "HANG-2")
    expect(tablet.locator("#taken .fit")).to_contain_text("Right HANG-2")
    expect(tablet.locator("[data-proposed='HANG-2']")).to_have_class("scanned")
    tap("text=Other equipment", "[data-equipment='WHEEL-1']")
    tap("[data-part='WHEEL-1-07']", "[data-part='WHEEL-1-07']")
    tap(count("good"), key("9"), key("8"), "#save")
    saved(tablet)
    assert tap.count <= TAPS_MOST
    entry = Entry.objects.get()
    assert (entry.good_base, entry.scrapped_base) == (98, 2)
    leak = EntryTally.objects.get(scrap_reason__code="LEAK")
    assert leak.equipment is not None
    assert (leak.equipment.code, leak.qty_base) == ("WHEEL-1-07", 2)
    assert taken_of(entry)["HANG-2"] == 300
    sticker = tablet.locator("#kept .yes >> text=Sticker").get_attribute("href") or ""
    assert tablet.request.get(live_server.url + sticker).headers["content-type"] == (
        "application/pdf"
    )
    expect(tablet.locator("#numbers")).to_contain_text("98 of 100 made")
    tap("#kept .yes >> text=Undo", "button:has-text('Undo it')")
    expect(tablet.locator(".latest .undone")).to_contain_text("Undone.")
    expect(tablet.locator("#numbers")).to_contain_text("0 of 100 made")


def test_the_other_stages_are_started_and_recorded(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    for item in ("HALF-L", "PAINTED-70-PERCH", "LURE-70-PERCH", "PACKED-70-PERCH"):
        plan(plan=BatchPlan(item_code=item, planned_base=40), stamp=stamp_at(shop))
    for stage, item, reason in (
        ("MOLDING", "HALF-L", "SHORT"),
        ("PAINTING", "PAINTED-70-PERCH", "RUNS"),
        ("RIGGING", "LURE-70-PERCH", "PULLS"),
        ("BOXING", "PACKED-70-PERCH", "TORN"),
    ):
        tap.count = 0
        tablet.goto(f"{live_server.url}/bench/")
        tap(f"[href='/bench/{stage}/']", f".choose a:has-text('{item}')", "text=Start it")
        tap(count(f"scrap:{reason}"), key("3"), key("left"), "#save")
        saved(tablet)
        assert tap.count <= TAPS_MOST
    facts = Entry.objects.values_list("batch__item__code", "good_base", "scrapped_base")
    assert list(facts) == [
        ("HALF-L", 40, 3),
        ("PAINTED-70-PERCH", 40, 3),
        ("LURE-70-PERCH", 40, 3),
        ("PACKED-70-PERCH", 40, 3),
    ]


def test_a_run_entered_without_a_connection_is_sent_once_when_it_is_back(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1")
    batch = running(shop, "BODY-70")
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    expect(tablet.locator("#lots")).to_contain_text("HANG-1")
    tablet.context.set_offline(True)
    scan(tablet, "HANG-1")
    expect(tablet.locator("#taken .looking")).to_contain_text("not looked at yet")
    tap(key("2"), key("0"), "#save")
    expect(tablet.locator("#kept .no")).to_contain_text("There is no connection")
    assert not Entry.objects.exists()
    lost: list[str] = []

    def lose_the_answer(route: Route) -> None:
        lost.append(route.request.headers["idempotency-key"])
        if len(lost) == 1:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    tablet.route("**/entries/", lose_the_answer)
    tablet.context.set_offline(False)
    saved(tablet)
    assert len(set(lost)) == 1
    assert len(lost) > 1
    entry = Entry.objects.get()
    assert (entry.good_base, taken_of(entry)["HANG-1"]) == (20, 60)
    assert entry.posting.at < entry.posting.recorded_at
    assert tablet.evaluate("localStorage.getItem('bench-outbox')") == "[]"


def test_a_sign_in_that_ended_loses_nothing(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1")
    batch = running(shop, "BODY-70")
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    expect(tablet.locator("#lots")).to_contain_text("HANG-1")
    tap("text=A timer, a note", "[data-timer='15']")
    tablet.context.clear_cookies(name="sessionid")
    tap(key("1"), key("5"), "#save")
    expect(tablet.locator("#kept .no")).to_contain_text("You are signed out")
    tap("#kept a.button")
    tablet.locator("[name=username]").fill("ben")
    tablet.locator("[name=password]").fill(PASSWORD)
    tablet.keyboard.press("Enter")
    saved(tablet)
    assert Entry.objects.get().good_base == 15
    expect(tablet.locator("#timers")).to_contain_text("BODY-70, 15 min: 14:")


def test_a_refusal_stands_at_its_place_and_nothing_is_lost(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1", 30)
    batch = running(shop, "BODY-70")
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    tap("#save")
    expect(tablet.locator("[data-problem-of=counts]")).to_contain_text("how many are good")
    tap(key("5"), key("0"), "#save")
    expect(tablet.locator("[data-problem-of=lots]")).to_contain_text(
        "missing: 120 pieces of HANGER"
    )
    tablet.reload()
    expect(tablet.locator(count("good"))).to_contain_text("50")
    hangers(shop, "HANG-2")
    tap("#save")
    saved(tablet)
    assert Entry.objects.get().good_base == 50


def test_two_tablets_record_for_one_batch(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer, new_context: Any
) -> None:
    hangers(shop, "HANG-1")
    batch = running(shop, "BODY-70")
    other_context = new_context()
    sign_in(other_context, live_server.url, shop)
    other = other_context.new_page()
    for each in (tablet, other):
        each.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
        expect(each.locator("#lots")).to_contain_text("HANG-1")
    for each, digit in ((tablet, "4"), (other, "7")):
        each.locator(key(digit)).click()
    for each in (other, tablet):
        each.locator("#save").click()
    for each in (other, tablet):
        saved(each)
    wait_for_quiet(other)
    assert sorted(Entry.objects.values_list("good_base", flat=True)) == [4, 7]
    expect(tablet.locator("#numbers")).to_contain_text("11 of 100 made")


def test_twenty_scans_at_full_speed_lose_and_merge_none(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    codes = [f"HANG-{number}" for number in range(101, 121)]
    for code in codes:
        hangers(shop, code, 3)
    batch = running(shop, "BODY-70")
    tablet.add_init_script(
        "const ask = window.fetch; window.fetch = async (...given) => {"
        " const answer = await ask(...given);"
        " if (String(given[0]).includes('/scan/')) await new Promise((go) => setTimeout(go, 250));"
        " return answer; }"
    )
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    expect(tablet.locator("#lots")).to_contain_text("HANG-101")
    for code in codes:
        scan(tablet, code)
    expect(tablet.locator("#taken .fit")).to_have_count(20)
    shown = tablet.eval_on_selector_all("#taken .fit", "rows => rows.map(r => r.dataset.taken)")
    assert shown == codes[::-1]
    tap(key("2"), key("0"), "#save")
    saved(tablet)
    took = taken_of(Entry.objects.get())
    assert {code: took[code] for code in codes} == dict.fromkeys(codes, 3)


def test_the_bench_is_accessible_and_fits_every_width(
    shop: User, tablet: Page, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1")
    batch = running(shop, "BODY-70")
    looker = Looker(tablet)
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    tablet.locator("text=Other equipment").click()
    tablet.locator("[data-equipment='WHEEL-1']").click()
    tablet.locator("[data-part='WHEEL-1-03']").click()
    scan(tablet, "PAINT-BASE-X")
    scan(tablet, "HANG-1")
    expect(tablet.locator("#taken .fit")).to_be_visible()
    assert looker.wrong() == []
