"""Values as people read them."""

from __future__ import annotations

from typing import Any

import pytest
from django.template import engines

from shopfloor.screens.cells import (
    Cell,
    Column,
    cell,
    columns_of,
    grouped,
    in_words,
    rounded,
    words,
)


@pytest.mark.parametrize(
    ("name", "value", "text"),
    [
        ("on_hand", {"amount": "12.5", "unit": "kg"}, "12.5 kg"),
        ("on_hand", {"amount": "0.1", "unit": "kg"}, "0.1 kg"),
        ("takes", {"amount": "0.0042", "unit": "kg"}, "4.2 g"),
        ("takes", {"amount": "-0.000042", "unit": "L"}, "-42 uL"),
        ("takes", {"amount": "0", "unit": "kg"}, "0 kg"),
        ("on_hand", {"amount": "6000", "unit": "each"}, "6000"),
        ("on_hand", {"amount": "144000", "unit": "each"}, "144,000"),
        ("value", "-7.333333", "-7.33"),
        ("value", "0.00042", "0.00042"),
        ("value", "0", "0.00"),
        ("scrap_ratio", "0.04", "4 %"),
        ("scrap_ratio", "1", "100 %"),
        ("is_active", True, "yes"),
        ("is_active", False, "no"),
        ("count", 12345, "12,345"),
        ("owner", None, ""),
        ("hazard_pictograms", ["GHS02", "GHS07"], "GHS02, GHS07"),
        (
            "prices",
            [{"packs_from": 1, "pack_price": "118.00"}, {"packs_from": 8, "pack_price": "109.50"}],
            "packs from 1, pack price 118.00; packs from 8, pack price 109.50",
        ),
        ("supplier_lot_code", "0071", "0071"),
        ("became", "on_shelf", "on shelf"),
        ("after", "2026-09-22T10:00:00-05:00", "2026-09-22 10:00"),
        ("document", "an offer by mail", "an offer by mail"),
    ],
)
def test_a_value_reads_as_a_person_writes_it(name: str, value: Any, text: str) -> None:
    assert cell(name, value).text == text


def test_a_moment_is_shown_in_the_shops_zone() -> None:
    assert cell("at", "2026-03-02T15:00:00Z").text == "2026-03-02 09:00"
    assert cell("expires_at", "2026-07-01T04:59:59Z").text == "2026-06-30 23:59"


def test_a_name_that_is_a_things_leads_to_its_page() -> None:
    assert cell("lot", "L-00012") == Cell("L-00012", address="/lots/L-00012/")
    assert cell("order", "PO1", "supplier-orders").address == "/supplier-orders/PO1/"
    assert cell("defect", "LEAK").address == ""  # reasons have no page of their own


def test_a_document_is_named_in_words_and_leads_there() -> None:
    assert cell("document", "supplier_order PO1") == Cell(
        "supplier order PO1", address="/supplier-orders/PO1/"
    )
    assert cell("document", "supplier_return EAST").text == "supplier return EAST"


def test_what_is_reckoned_is_rounded_and_in_a_unit_of_the_shop() -> None:
    assert rounded({"amount": "4818.235444649", "unit": "mg"}) == {"amount": "4.818", "unit": "g"}
    assert rounded({"amount": "1.002004008", "unit": "each"})["amount"] == "1.002"


def test_a_member_that_a_sentence_names_is_called_as_on_the_page() -> None:
    assert in_words("In place of `per_piece`.") == "In place of “Per piece”."


def test_a_thing_within_a_row_is_shown_by_code_and_name() -> None:
    made = cell("item", {"code": "HOOK", "name": "Treble hook", "kind": "hook"})
    assert (made.text, made.address) == ("HOOK Treble hook", "/items/HOOK/")


def test_how_a_thing_stands_is_marked_and_said() -> None:
    assert cell("disposition", "held") == Cell("held", mark="held")
    assert cell("kind", "split_ring") == Cell("split ring")


def test_a_column_may_show_a_second_member_below() -> None:
    shown = Column("item", note="item_name").cell({"item": "HOOK", "item_name": "Treble hook"})
    assert (shown.text, shown.note) == ("HOOK", "Treble hook")


def test_a_column_may_lead_to_a_page_named_by_the_row() -> None:
    column = Column("number", "Revision", to="/bills/{item}/revisions/{number}/")
    row = {"number": 2, "item": "A/B"}
    assert column.cell(row).address == "/bills/A%2FB/revisions/2/"
    assert column.cell({"item": "A/B"}).address == ""


def test_a_member_of_a_list_is_each_of_its_values_once() -> None:
    row = {"lots": [{"item": "FROG"}, {"item": "MINNOW"}, {"item": "FROG"}, {"item": None}]}
    assert Column("lots.item").cell(row).text == "FROG, MINNOW"
    assert Column("lots.item").cell({"lots": []}).text == ""


def test_so_much_for_so_much_is_read_in_one() -> None:
    grams, each = {"amount": "0.5", "unit": "g"}, {"amount": "1", "unit": "each"}
    assert cell("need", {"takes": grams, "makes": each}).text == "0.5 g for 1"
    assert cell("at", {"takes": "0.391244", "makes": each}).text == "0.39 for 1"


def test_a_table_has_the_columns_that_say_something() -> None:
    first: dict[str, Any] = {"lot": "L-1", "owner": "", "value": None}
    rows = [first, {**first, "value": "1"}]
    assert [column.name for column in columns_of(rows)] == ["lot", "value"]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("9999", "9999"),
        ("10000", "10,000"),
        ("-1234567.50", "-1,234,567.50"),
        ("L-12345", "L-12345"),
    ],
)
def test_thousands_stand_apart_from_five_digits_on(text: str, shown: str) -> None:
    assert grouped(text) == shown


def test_a_members_name_becomes_words() -> None:
    assert words("supplier_lot_code") == "Supplier lot code"
    assert words("bill.released_at") == "Released"


def test_what_somebody_typed_is_shown_and_never_run() -> None:
    made = Cell("<b>HOOK</b>", address='/items/"><script>/', note="5 < 6", is_number=True)
    assert made.td == (
        '<td class="number"><a href="/items/&quot;&gt;&lt;script&gt;/">&lt;b&gt;HOOK&lt;/b&gt;</a>'
        '<span class="note">5 &lt; 6</span></td>'
    )
    assert Cell("held", mark="held").__html__() == '<span class="mark held">held</span>'


def test_a_cell_writes_itself_into_a_template_and_nothing_unescaped() -> None:
    shown = engines["django"].from_string("{{ cell }}")
    lot = Cell("<b>L-1</b>", address="/lots/L-1/", note="a & b")
    assert shown.render({"cell": lot}) == (
        '<a href="/lots/L-1/">&lt;b&gt;L-1&lt;/b&gt;</a><span class="note">a &amp; b</span>'
    )
    assert shown.render({"cell": cell("is_passed", False)}) == (  # noqa: FBT003 - the value
        '<span class="mark failed">failed</span>'
    )


def test_some_names_are_no_words_for_people() -> None:
    assert [words(name) for name in ("is_active", "gtin", "abc")] == ["In use", "GTIN", "ABC"]
