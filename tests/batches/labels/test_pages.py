"""A Digital Link of the shop's own leads people to a page and programs to the scan door."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from rest_framework.test import APIClient

from batches.packing.operations import Part, allot_ssccs, pack_box
from batches.packing.selectors import ssccs_of
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches.labels.conftest import stamp_at

GTIN, OTHER = "09521234543213", "09521234000013"
StockOf = Callable[..., Lot]


@pytest.fixture
def minnows(stock_of: StockOf) -> Lot:
    return stock_of("MINNOW", lot_code="M1", gtin=GTIN, supplier_lot_code="A/7 1")


@pytest.fixture
def person(owner: User, minnows: Lot) -> Client:
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize(
    ("address", "meaning"),
    [
        (f"/01/{GTIN}", "This is item MINNOW, by its GTIN."),
        (f"/01/{GTIN}/10/M1", "This is lot M1 of MINNOW."),
        (f"/01/{GTIN}/10/m1?17=271231&from=label", "This is lot M1 of MINNOW."),
        (f"/01/{GTIN}/10/M1/21/9", "This is lot M1 of MINNOW."),
        (f"/01/{GTIN}/10/B%2F8", "Lot B/8 of MINNOW, a supplier&#x27;s, is not received yet"),
    ],
)
def test_a_person_is_led_to_the_page(person: Client, address: str, meaning: str) -> None:
    sent_on = person.get(address)
    assert (sent_on.status_code, sent_on["Location"][:12]) == (303, "/scan/?code=")
    page = person.get(sent_on["Location"])
    assert page.status_code == 200
    assert meaning in page.content.decode()


def test_an_sscc_leads_to_its_box(person: Client, owner: User) -> None:
    box = pack_box(contents=[Part("M1", 24)], stamp=stamp_at(owner))
    allot_ssccs(box_codes=[box.code], stamp=stamp_at(owner))
    page = person.get(f"/00/{ssccs_of([box.code])[box.code]}", follow=True)
    assert f"This is box {box.code}." in page.content.decode()


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


def test_only_what_is_not_here_is_said_to_be_received(person: Client, stock_of: StockOf) -> None:
    stock_of("FROG", lot_code="F1", gtin=OTHER, supplier_lot_code="S77")
    here = person.get("/scan/", {"code": f"(01){OTHER}(10)S77"}).content.decode()
    assert "This is lot F1 of FROG" in here
    assert "To be received" not in here
    away = person.get("/scan/", {"code": f"(01){OTHER}(10)S78"}).content.decode()
    assert "To be received: FROG, lot S78." in away


def test_the_page_is_one_step_from_any_other(person: Client) -> None:
    assert '<a href="/scan/">Scan</a>' in person.get("/").content.decode()


def test_the_page_takes_a_scan(person: Client) -> None:
    assert "Scan a label" in person.get("/scan/").content.decode()
    assert "This is lot M1" in person.get("/scan/", {"code": "m1"}).content.decode()
    lost = person.get("/scan/", {"code": "NOTHING"})
    assert lost.status_code == 404
    assert "Nothing here has this code" in lost.content.decode()
    assert "Scan a label" in lost.content.decode(), "ready for the next scan"
    assert person.get("/scan/", {"code": "M1\x00"}).status_code == 422
