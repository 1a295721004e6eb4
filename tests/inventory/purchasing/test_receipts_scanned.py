"""A supplier's label at receiving: it fills the line in, and what was typed must agree."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import change_item, change_offer, create_supplier
from inventory.purchasing.models import Receipt
from inventory.purchasing.rules import gtin_spellings, is_about, labeled_amount
from inventory.stock.models import Lot
from shopfloor.codes.gs1.deliveries import Delivered, Measure
from shopfloor.days import day_end
from shopfloor.models import User
from shopfloor.units import Dimension
from tests.inventory.conftest import NOON
from tests.inventory.purchasing.conftest import AT, Calling, each

# Made with the prefix 952, which GS1 keeps for examples.
GTIN, OTHER = "09521234543213", "09521234000013"


@pytest.fixture
def labeled_hook(hook: Item, lead: User) -> Item:
    return change_item(code="HOOK-6", fields={"gtin": GTIN}, by=lead, at=NOON)


@pytest.fixture
def labeled_resin(resin: Item, lead: User) -> Item:
    return change_item(code="RESIN", fields={"gtin": OTHER}, by=lead, at=NOON)


def scanned(scan: str, **fields: Any) -> dict[str, Any]:
    return {"supplier": "hooks", "at": AT, "lines": [{"scan": scan, "value": "45", **fields}]}


def test_the_label_of_hooks_fills_the_line(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item
) -> None:
    sent = f"]d201{GTIN}1727123110ax8\u241d30500"
    came = calling(lead).post("receipts/", scanned(sent))
    assert came.status_code == 201, came.json()
    [line] = came.json()["lines"]
    assert (line["item"], line["amount"]) == ("HOOK-6", {"amount": "500", "unit": "each"})
    lot = Lot.objects.get()
    assert (lot.supplier_lot_code, lot.expires_at) == ("ax8", day_end(date(2027, 12, 31)))


@pytest.mark.parametrize(
    "sent",
    [
        f"]d201{GTIN}1727123110ax8\x1d30500",
        f"]d201{GTIN}1727123110ax8\u241d30500\r\n",
        f"\x1d01{GTIN}1727123110ax8\x1d30500",
        f"01{GTIN}1727123110ax8\u241d30500",
        f"]C1\x1d01{GTIN}30500\x1d1727123110ax8",
        f"(01){GTIN}(17)271231(30)500(10)ax8",
        f"]d2(01){GTIN}(17)271231(30)500(10)ax8",
        f"]Q1https://supplier.example/01/{GTIN}/10/ax8?17=271231&30=500",
    ],
)
def test_the_same_label_however_the_scanner_sends_it(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item, sent: str
) -> None:
    came = calling(lead).post("receipts/", scanned(sent))
    assert came.status_code == 201, came.json()
    lot = Lot.objects.get()
    assert (lot.on_hand_base, lot.supplier_lot_code) == (500, "ax8")
    assert lot.expires_at == day_end(date(2027, 12, 31))


def test_a_separator_is_taken_in_the_scan_alone(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item
) -> None:
    sent = scanned(f"(01){GTIN}(30)500", supplier_lot_code="a\x1d8")
    fields = calling(lead).post("receipts/", sent).json()["facts"]["fields"]
    assert list(fields["lines"]["0"]) == ["supplier_lot_code"]
    sent = scanned(f"]d201{GTIN}30500\x00")
    fields = calling(lead).post("receipts/", sent).json()["facts"]["fields"]
    assert list(fields["lines"]["0"]) == ["scan"]


@pytest.mark.parametrize(
    ("weight", "mg"), [("3103025000", 25_000_000), ("3202005512", 25_002_011), ("310025", None)]
)
def test_the_label_of_resin_says_its_weight(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    labeled_resin: Item,
    weight: str,
    mg: int | None,
) -> None:
    came = calling(lead).post("receipts/", scanned(f"]C101{OTHER}{weight}10R7"))
    assert (came.status_code == 201) == (mg is not None)
    # 55.12 lb of 453 592.37 mg (NIST SP 811) are 25 002 011.4 mg.
    assert [lot.on_hand_base for lot in Lot.objects.all()] == ([] if mg is None else [mg])


def test_packs_are_those_of_the_suppliers_offer(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    change_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=each(1000),
        fields={"supplier_item_number": GTIN[1:]},
        by=lead,
        at=NOON,
    )
    came = calling(lead).post("receipts/", scanned(f"(02){GTIN}(37)5(10)AX8"))
    assert came.json()["lines"][0]["amount"] == {"amount": "5000", "unit": "each"}
    create_supplier(code="BENDERS", fields={"name": "Another"}, by=lead, at=NOON)
    other = {**scanned(f"(02){GTIN}(37)5(10)AX8"), "supplier": "BENDERS"}
    assert calling(lead).post("receipts/", other).json()["code"] == "label_item_unknown"


def test_what_was_typed_and_agrees_is_taken(
    calling: Calling, lead: User, supplier: Supplier, labeled_resin: Item
) -> None:
    sent = scanned(
        f"(01){OTHER}(3101)000250(15)270630(10)R7",
        item="resin",
        amount="25.04",
        unit="kg",
        supplier_lot_code="r7",
        expires_on="2027-01-31",
    )
    came = calling(lead).post("receipts/", sent)
    assert came.status_code == 201, came.json()
    lot = Lot.objects.get()
    assert (lot.on_hand_base, lot.supplier_lot_code) == (25_040_000, "R7")
    assert lot.expires_at == day_end(date(2027, 1, 31))


@pytest.mark.parametrize(
    ("fields", "differs"),
    [
        ({"amount": "499", "unit": "each"}, ["amount"]),
        ({"amount": "42", "unit": "dozen"}, ["amount"]),
        ({"supplier_lot_code": "AX9"}, ["supplier_lot_code"]),
        ({"expires_on": "2027-12-30"}, ["expires_on"]),
        ({"item": "RESIN", "amount": "1", "unit": "lb"}, ["item"]),
        ({"supplier_lot_code": "AX9", "expires_on": "2027-12-30"}, None),
    ],
)
def test_what_was_typed_and_differs_is_refused_by_name(
    calling: Calling,
    lead: User,
    supplier: Supplier,
    labeled_hook: Item,
    resin: Item,
    fields: dict[str, Any],
    differs: list[str] | None,
) -> None:
    refused = calling(lead).post(
        "receipts/", scanned(f"(01){GTIN}(17)271231(30)500(10)AX8", **fields)
    )
    assert (refused.status_code, refused.json()["code"]) == (422, "label_differs")
    named = [each["field"] for each in refused.json()["facts"]["differences"]]
    assert named == (differs or sorted(fields, reverse=True))
    assert not Receipt.objects.exists()


def test_the_gtin_of_another_article_on_the_bag_is_noticed(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item
) -> None:
    refused = calling(lead).post("receipts/", scanned(f"(01){OTHER}(30)500", item="HOOK-6"))
    assert refused.json()["facts"]["differences"] == [
        {"field": "gtin", "typed": GTIN, "label": OTHER}
    ]


@pytest.mark.parametrize(
    ("scan", "code"),
    [
        (f"(01){OTHER}(30)500", "label_item_unknown"),
        (f"(01){GTIN}(10)AX8", "label_amount_missing"),
        (f"(01){GTIN}(30)0", "label_amount_missing"),
        (f"(01){GTIN}(17)251231(30)500", "expiry_before_receipt"),
        ("AX8", "label_empty"),
        ("L-2227", "label_empty"),
        ("(01)09521234543214(30)5", "check_digit"),
        (f"(01){GTIN}(30)5(01){GTIN}(30)5", "two_codes"),
        (f"(01){GTIN}(30)5(10)AX8HOOK-6", "two_codes"),
        ("x" * 551, "invalid_input"),
        ("", "invalid_input"),
    ],
)
def test_a_label_that_says_too_little_is_refused_and_nothing_comes_in(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item, scan: str, code: str
) -> None:
    refused = calling(lead).post("receipts/", scanned(scan))
    assert (refused.status_code, refused.json()["code"]) == (422, code), refused.json()
    assert not Lot.objects.exists()


@pytest.mark.parametrize("left_out", ["amount", "unit"])
def test_amount_and_unit_come_together(
    calling: Calling, lead: User, supplier: Supplier, labeled_hook: Item, left_out: str
) -> None:
    sent = scanned(f"(01){GTIN}(30)500", amount="500", unit="each")
    del sent["lines"][0][left_out]
    refused = calling(lead).post("receipts/", sent)
    assert (refused.status_code, refused.json()["code"]) == (422, "invalid_input")


# --- Arithmetic ---


KG = Measure(Decimal("1.250"), "kg")


@pytest.mark.parametrize(
    ("said", "dimension", "article_base", "amount"),
    [
        (Delivered(pieces=24), Dimension.COUNT, None, Measure(Decimal(24), "each")),
        (Delivered(pieces=24), Dimension.MASS, None, None),
        (Delivered(measures=(KG,)), Dimension.MASS, None, KG),
        (Delivered(measures=(KG,)), Dimension.COUNT, 1, None),
        (Delivered(articles=3), Dimension.COUNT, 1, Measure(Decimal(3), "each")),
        (Delivered(articles=3), Dimension.COUNT, None, None),
        (Delivered(articles=3), Dimension.MASS, 25_000_000, Measure(Decimal(75_000_000), "mg")),
        (Delivered(articles=3, measures=(KG,)), Dimension.MASS, 25_000_000, None),
        (Delivered(articles=3, pieces=24), Dimension.COUNT, 1, None),
        (Delivered(articles=0), Dimension.COUNT, 1, None),
        (Delivered(), Dimension.COUNT, 1, None),
    ],
)
def test_the_amount_on_a_label(
    said: Delivered, dimension: Dimension, article_base: int | None, amount: Measure | None
) -> None:
    assert labeled_amount(said, dimension=dimension, article_base=article_base) == amount


@pytest.mark.parametrize(("typed", "is_so"), [(25_050, True), (25_051, False), (24_949, False)])
def test_a_label_rounds_to_its_last_place(typed: int, is_so: bool) -> None:  # noqa: FBT001
    assert is_about(typed, labeled_base=25_000, step_base=100) is is_so


def test_a_gtin_is_written_with_or_without_its_zeros() -> None:
    assert gtin_spellings(GTIN) == [GTIN[1:], GTIN]
    assert gtin_spellings("00000095212345") == [
        "95212345",
        "000095212345",
        "0000095212345",
        "00000095212345",
    ]
