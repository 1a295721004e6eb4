"""Scans and links lead people to pages and programs to the scan door; printing on pages."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries
from rest_framework.test import APIClient

from batches.packing.operations import Part, allot_ssccs, pack_box
from batches.packing.selectors import ssccs_of
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.operations import create_person
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from tests.batches.labels.conftest import MONDAY, stamp_at

GTIN, OTHER = "09521234543213", "09521234000013"
StockOf = Callable[..., Lot]


@pytest.fixture
def minnows(stock_of: StockOf) -> Lot:
    return stock_of("MINNOW", lot_code="M1", gtin=GTIN, supplier_lot_code="A/7 1")


@pytest.fixture
def viewer(owner: User) -> Client:
    create_person(
        username="vera", display_name="Vera", role=Role.VIEWER, password=None, by=owner, at=MONDAY
    )
    client = Client()
    client.force_login(person_named("vera"), backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def person(owner: User, minnows: Lot) -> Client:
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize(
    ("address", "page"),
    [
        (f"/01/{GTIN}/10/M1", "/lots/M1/"),
        (f"/01/{GTIN}/10/m1?17=271231&from=label", "/lots/M1/"),
        (f"/01/{GTIN}/10/M1/21/9", "/lots/M1/"),
    ],
)
def test_a_person_is_led_to_the_page(person: Client, address: str, page: str) -> None:
    sent_on = person.get(address)
    assert (sent_on.status_code, sent_on["Location"][:12]) == (303, "/scan/?code=")
    led = person.get(sent_on["Location"])
    assert (led.status_code, led["Location"]) == (303, page)


def test_an_sscc_leads_to_its_box(person: Client, owner: User) -> None:
    box = pack_box(contents=[Part("M1", 24)], stamp=stamp_at(owner))
    allot_ssccs(box_codes=[box.code], stamp=stamp_at(owner))
    page = person.get(f"/00/{ssccs_of([box.code])[box.code]}", follow=True)
    assert page.redirect_chain[-1] == (f"/boxes/{box.code}/", 303)


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        (f"/01/{OTHER}", 404, "No item here has the GTIN"),
        (f"/01/{OTHER}/10/M1", 404, "No item here has the GTIN"),
        ("/00/395212340000000014", 404, "No box here has the SSCC"),
        ("/01/09521234543214", 422, "check digit"),
        ("/01/anything", 422, "digits only"),
        (f"/01/{GTIN}/10/{'x' * 21}", 422, "BATCH/LOT"),
        (f"/01/{GTIN}/10/M1?01={GTIN}", 422, "cannot stand in the query"),
    ],
)
def test_what_leads_nowhere_is_told_in_words(
    person: Client, address: str, status: int, words: str
) -> None:
    page = person.get(address)
    assert (page.status_code, words in page.content.decode()) == (status, True)


def test_nobody_is_sent_to_sign_in_and_back(minnows: Lot) -> None:
    answer = Client().get(f"/01/{GTIN}/10/M1?17=271231")
    assert answer.status_code == 302
    back = parse_qs(urlsplit(answer["Location"]).query)["next"]
    assert back == [f"/01/{GTIN}/10/M1?17=271231"]


def test_a_program_is_led_to_the_scan_door(api: APIClient, minnows: Lot) -> None:
    sent_on = api.get(f"/01/{GTIN}/10/M1?17=271231")
    assert (sent_on.status_code, sent_on["Location"][:19]) == (303, "/api/v1/scan/?code=")
    found = api.get(sent_on["Location"]).json()
    assert (found["code"], [row["ai"] for row in found["read"]]) == ("M1", ["01", "10", "17"])
    stranger = APIClient(headers={"Authorization": "Token nobody"})
    assert stranger.get(stranger.get(f"/01/{GTIN}")["Location"]).status_code == 401


def test_a_suppliers_label_leads_to_its_lot_or_to_its_receipt(
    person: Client, stock_of: StockOf
) -> None:
    stock_of("FROG", lot_code="F1", gtin=OTHER, supplier_lot_code="S77")
    here = person.get("/scan/", {"code": f"(01){OTHER}(10)S77"})
    assert here["Location"] == "/lots/F1/"
    away = person.get("/scan/", {"code": f"]d201{OTHER}10S78"})
    assert away["Location"].startswith("/receipts/new/?lines.0.scan=")
    form = person.get(away["Location"]).content.decode()
    assert f"01{OTHER}10S78" in form


def test_who_does_not_receive_sees_the_item_instead(person: Client, viewer: Client) -> None:
    assert viewer.get("/scan/", {"code": f"(01){GTIN}"})["Location"] == "/items/MINNOW/"


def test_every_page_takes_a_scan(person: Client) -> None:
    assert 'action="/scan/"' in person.get("/").content.decode()
    assert person.get("/scan/", {"code": "m1"})["Location"] == "/lots/M1/"
    assert "Scan a label" in person.get("/scan/").content.decode()
    lost = person.get("/scan/", {"code": "NOTHING"})
    assert lost.status_code == 404
    assert "Nothing here has this code" in lost.content.decode()
    assert "Scan a label" in lost.content.decode(), "ready for the next scan"
    assert person.get("/scan/", {"code": "M1\x00"}).status_code == 422


def test_words_lead_to_a_list_of_what_fits_and_never_straight_on(
    person: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_max_num_queries(12):
        page = person.get("/scan/", {"code": "innow"})
    shown = page.content.decode()
    assert page.status_code == 200
    assert '<a href="/items/MINNOW/">MINNOW</a>' in shown
    assert '<a href="/lots/M1/">M1</a>' in shown
    assert "Nothing has exactly this code." in shown


def test_every_word_must_fit(api: APIClient) -> None:
    found = api.get("/api/v1/search/", {"words": "minnow m1"}).json()["found"]
    assert found == []


def test_a_paper_is_printed_on_a_page_and_kept(person: Client) -> None:
    form = person.get("/printings/new/?kind=lots&codes=M1").content.decode()
    assert "M1</textarea>" in form
    assert '<option value="4x6">4x6</option>' in form
    done = person.post(
        "/printings/new/",
        {"kind": "lots", "codes": "M1", "copies": "2", "idempotency_key": "print"},
    )
    page = person.get(done["Location"]).content.decode()
    assert "/api/v1" + done["Location"].rstrip("/") + ".pdf" in page
    assert "M1" in person.get("/printings/").content.decode()


def test_a_stock_is_added_and_changed_on_pages(person: Client) -> None:
    form = {"code": "TAGS", "unit": "in", "label_width": "2", "label_height": "1"}
    person.post("/label-stocks/new/", {**form, "idempotency_key": "new"})
    shown = person.get("/label-stocks/TAGS/change/").content.decode()
    assert 'value="50.8"' in shown
    person.post("/label-stocks/TAGS/change/", {"margin": "2.5", "idempotency_key": "change"})
    assert 'value="2.5"' in person.get("/label-stocks/TAGS/change/").content.decode()
