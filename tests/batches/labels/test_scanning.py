"""What GS1 data, two labels at once and turned letters lead to."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from rest_framework.test import APIClient

from batches.labels.selectors import scan_target
from batches.packing.models import Box
from batches.packing.operations import Part, allot_ssccs, pack_box
from batches.packing.selectors import ssccs_of
from inventory.catalog.operations import create_item, create_place
from inventory.stock.models import Lot
from shopfloor.errors import ShopError
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from shopfloor.selectors import person_named
from tests.batches.labels.conftest import MONDAY, stamp_at, take_in

# Made with the prefix 952, which GS1 keeps for examples.
GTIN, OTHER, SSCC = "09521234543213", "09521234000013", "395212340000000014"
ON = date(2026, 3, 2)
StockOf = Callable[..., Lot]


def scan(api: APIClient, text: str) -> Any:
    return api.get("/api/v1/scan/", {"code": text}).json()


@pytest.fixture
def minnows(stock_of: StockOf) -> Lot:
    return stock_of("MINNOW", lot_code="M1", gtin=GTIN)


@pytest.fixture
def hooks(stock_of: StockOf) -> Lot:
    """A supplier's lot."""
    return stock_of("HOOK", kind="hook", gtin=OTHER, supplier_lot_code="AX8")


@pytest.fixture
def labeled_box(owner: User, minnows: Lot) -> Box:
    """A box that has an SSCC."""
    box = pack_box(contents=[Part("M1", 24)], stamp=stamp_at(owner))
    allot_ssccs(box_codes=[box.code], stamp=stamp_at(owner))
    return box


@pytest.mark.parametrize(
    "sent",
    [
        f"(01){GTIN}(10)M1",
        f"]C101{GTIN}10M1",
        f"]c101{GTIN}10m1",
        f"]d201{GTIN}10M1\x1d21A7",
        f"]d201{GTIN}10M1\u241d21A7",
        f"]Q3\x1d01{GTIN}10M1",
        f"01{GTIN}10M1",
        f"https://any.example/01/{GTIN}/10/M1",
        f"http://shop.example:8000/x/01/{GTIN}/10/m1?17=271231",
        f"(02){GTIN}(37)24(10)M1",
        "(10)M1",
        "]C110m1",
    ],
)
def test_a_lot_of_ours_is_found_under_its_gtin(api: APIClient, minnows: Lot, sent: str) -> None:
    found = scan(api, sent)
    assert (found["kind"], found["code"], found["delivery"]) == ("lot", "M1", None)
    assert found["meaning"] == "This is lot M1 of MINNOW."


def test_what_was_read_is_told_in_words(api: APIClient, minnows: Lot) -> None:
    read = scan(api, f"(01){GTIN}(17)271200(3103)001250(30)0024(10)M1")["read"]
    assert [(row["ai"], row["title"], row["words"]) for row in read] == [
        ("01", "GTIN", GTIN),
        ("17", "USE BY or EXPIRY", "2027-12-31"),
        ("3103", "NET WEIGHT (kg)", "1.250 kg"),
        ("30", "VAR. COUNT", "24"),
        ("10", "BATCH/LOT", "M1"),
    ]


def test_an_sscc_leads_to_its_box_and_what_is_in_it_does_not(
    api: APIClient, labeled_box: Box
) -> None:
    sscc = ssccs_of([labeled_box.code])[labeled_box.code]
    for sent in (f"(00){sscc}", sscc, f"]d200{sscc}02{GTIN}3724\x1d10M1", f"http://a/00/{sscc}"):
        found = scan(api, sent)
        assert (found["kind"], found["code"], found["delivery"]) == ("box", labeled_box.code, None)


def test_an_sscc_of_nobody_here_says_so(api: APIClient, minnows: Lot) -> None:
    problem = scan(api, f"(00){SSCC}")
    assert (problem["status"], "SSCC" in problem["detail"]) == (404, True)
    assert scan(api, f"(00){SSCC}(02){GTIN}(37)24(10)M1")["code"] == "M1"


def test_a_gtin_of_no_item_says_where_it_belongs(api: APIClient, minnows: Lot) -> None:
    problem = scan(api, f"(01){OTHER}(10)M1")
    assert (problem["status"], problem["code"]) == (404, "not_found")
    assert "Add it to the item" in problem["detail"]
    assert [row["ai"] for row in problem["facts"]["read"]] == ["01", "10"]
    assert "add it to the item" in scan(api, OTHER)["detail"]


def test_a_suppliers_lot_is_ours_once_received(api: APIClient, hooks: Lot) -> None:
    for sent in (f"(01){OTHER}(10)AX8", f"(01){OTHER}(10)ax8", "(10)AX8", "ax8"):
        found = scan(api, sent)
        assert (found["kind"], found["code"]) == ("lot", hooks.code)


def test_a_suppliers_lot_that_did_not_come_yet_is_proposed(api: APIClient, hooks: Lot) -> None:
    found = scan(api, f"(01){OTHER}(10)AX9(17)271231(30)500")
    assert (found["kind"], found["code"]) == ("item", "HOOK")
    assert found["meaning"] == "Lot AX9 of HOOK, a supplier's, is not received yet: receive it."
    assert found["delivery"] == {
        "scan": f"(01){OTHER}(10)AX9(17)271231(30)500",
        "item": "HOOK",
        "supplier": None,
        "order": None,
        "amount": {"amount": "500", "unit": "each"},
        "supplier_lot_code": "AX9",
        "expires_on": "2027-12-31",
    }


def test_the_same_lot_of_a_supplier_twice_is_not_guessed(
    api: APIClient, owner: User, hooks: Lot
) -> None:
    other = take_in(owner, "HOOK", supplier_lot_code="AX8")
    problem = scan(api, f"(01){OTHER}(10)AX8")
    assert problem["code"] == "scan_ambiguous"
    assert problem["facts"]["lots"] == [hooks.code, other.code]


def test_a_lot_of_ours_under_the_gtin_of_another_item_is_refused(
    api: APIClient, minnows: Lot, hooks: Lot
) -> None:
    problem = scan(api, f"(01){GTIN}(10){hooks.code}")
    assert (problem["status"], problem["code"]) == (409, "scan_contradicts")
    # A code that the shop gave may be a supplier's too: M1 of hooks is not our M1 of minnows.
    assert scan(api, f"(01){OTHER}(10)M1")["kind"] == "item"


@pytest.mark.parametrize(
    "sent",
    ["M1MINNOW", "M1M1", "m1 minnow", f"(01){GTIN}(10)M1(01){GTIN}(10)M1"],
)
def test_two_codes_at_once_are_refused(api: APIClient, minnows: Lot, sent: str) -> None:
    problem = scan(api, sent)
    assert (problem["status"], problem["code"]) == (422, "two_codes")


@pytest.mark.parametrize(
    "sent",
    [
        f"]d201{OTHER}10AX7HOOK-6",
        f"(01){OTHER}(10)AX8hook-6",
        "(10)AX7HOOK-6",
        "AX7HOOK-6",
        f"https://any.example/01/{OTHER}/10/AX7HOOK-6",
    ],
)
def test_a_suppliers_label_with_a_code_of_ours_behind_it_is_two(
    api: APIClient, hooks: Lot, stock_of: StockOf, sent: str
) -> None:
    stock_of("HOOK-6", kind="hook")
    problem = scan(api, sent)
    assert (problem["status"], problem["code"]) == (422, "two_codes"), problem


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        (f"(01){OTHER}(10)AX7HOOK-7", "HOOK"),  # no such code here
        (f"(01){OTHER}(10)AX7-HOOK-6", "HOOK"),
        (f"(01){OTHER}(10)XHOOK-6", "HOOK"),
        (f"(01){OTHER}(10)AX7HOOK", "HOOK"),  # without a hyphen it may be the lot's own end
    ],
)
def test_a_lot_that_only_ends_a_little_like_a_code_of_ours_is_one(
    api: APIClient, hooks: Lot, stock_of: StockOf, sent: str, code: str
) -> None:
    stock_of("HOOK-6", kind="hook")
    found = scan(api, sent)
    assert (found["kind"], found["code"]) == ("item", code), found


def test_a_lot_that_came_under_such_a_code_is_found(
    api: APIClient, owner: User, hooks: Lot, stock_of: StockOf
) -> None:
    stock_of("HOOK-6", kind="hook")
    lot = take_in(owner, "HOOK", supplier_lot_code="AX7HOOK-6")
    assert scan(api, f"(01){OTHER}(10)AX7HOOK-6")["code"] == lot.code


@pytest.mark.parametrize("sent", ["%1D", "]d2", "]d20109521234543214", "(01)1", "(99)"])
def test_a_fault_in_gs1_data_is_told(api: APIClient, minnows: Lot, sent: str) -> None:
    assert scan(api, sent)["status"] in {404, 422}


class AnyScan(TestCase):
    """Whatever is sent: the thing it names, or words."""

    def setup_example(self) -> None:  # noqa: D102 - the library names it
        super().setup_example()  # type: ignore[no-untyped-call]
        create_first_owner(username="olga", display_name="O", password=None, at=MONDAY)
        olga = person_named("olga")
        create_place(code="SHELF", fields={"name": "S", "kind": "shelf"}, by=olga, at=MONDAY)
        fields: Any = {
            "name": "M",
            "kind": "lure",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
            "gtin": GTIN,
        }
        create_item(code="MINNOW", fields=fields, by=olga, at=MONDAY)
        self.lots = [
            take_in(olga, "MINNOW").code,
            take_in(olga, "MINNOW", lot_code="M1").code,
            take_in(olga, "MINNOW", lot_code="2024-1.B").code,
        ]

    @given(which=st.integers(0, 2), form=st.integers(0, 9), is_turned=st.booleans())
    def test_a_lot_comes_back_through_every_form(  # noqa: D102
        self,
        which: int,
        form: int,
        is_turned: bool,  # noqa: FBT001
    ) -> None:
        code = self.lots[which]
        sent = [
            code,
            f"]C0{code}",
            f"]d1{code}\r\n",
            f" {code}\t",
            f"http://shop.example/s/{code}",
            f"(01){GTIN}(10){code}",
            f"]d201{GTIN}10{code}",
            f"]C1\x1d01{GTIN}10{code}\x1d21A",
            f"https://shop.example/01/{GTIN}/10/{code}?17=271231",
            f"01{GTIN}10{code}",
        ][form]
        found = scan_target(sent.swapcase() if is_turned else sent, on=ON)
        assert (found.kind, found.code) == ("lot", code)

    @given(
        sent=st.one_of(
            st.text(max_size=40),
            st.text(alphabet="01259()]CdQ\x1d\u241dLMX-./:htps", max_size=60),
            st.lists(
                st.sampled_from(
                    [
                        f"01{GTIN}",
                        f"(01){GTIN}",
                        "10M1",
                        "(10)",
                        "\x1d",
                        "]d2",
                        "https://x/01/",
                        "M1",
                    ]
                ),
                max_size=5,
            ).map("".join),
        )
    )
    def test_anything_else_is_told_and_never_leads_to_a_lot_not_in_it(  # noqa: D102
        self, sent: str
    ) -> None:
        try:
            found = scan_target(sent, on=ON)
        except ShopError:
            return
        names = (found.code, GTIN, GTIN[1:])
        assert any(name in sent.upper() for name in names)
