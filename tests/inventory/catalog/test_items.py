"""Items: entered, changed, converted, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Place
from inventory.catalog.operations import change_item, change_place, create_item
from inventory.catalog.selectors import item_with_offers, positive_base, shown_amount
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.fields import Amount
from shopfloor.models import Change, User
from tests.inventory.conftest import LATER, NOON, Caller, stamp_at

Calling = Callable[[User], Caller]

GLUE = {
    "code": "glue-a",
    "name": "Adhesive, part A",
    "kind": "adhesive",
    "dimension": "mass",
    "display_unit": "g",
    "storage_place": "shelf-a",
    "shelf_life_days": 365,
    "made_life_minutes": 5,
    "opened_life_minutes": 43200,
    "hazard_text": "  H317: May cause an allergic skin reaction.\n H319\n",
    "hazard_pictograms": ["GHS07", "GHS05", "GHS07"],
    "gtin": "9521234543213",
}


def with_changes(**fields: Any) -> dict[str, Any]:
    return {**GLUE, **fields}


def test_an_item_is_entered_and_read_back_with_everything(
    calling: Calling, lead: User, viewer: User, shelf: Place
) -> None:
    entered = calling(lead).post("items/", GLUE)
    assert entered.status_code == 201, entered.json()
    read = calling(viewer).get("items/Glue-A/").json()
    assert read == entered.json()
    assert read == {
        "code": "GLUE-A",
        "name": "Adhesive, part A",
        "kind": "adhesive",
        "dimension": "mass",
        "display_unit": "g",
        "model": None,
        "colorway": None,
        "storage_place": "SHELF-A",
        "piece_mass_mg": None,
        "density_mg_per_ul": None,
        "shelf_life_days": 365,
        "made_life_minutes": 5,
        "opened_life_minutes": 43200,
        "arrives": "released",
        "hazard_text": "  H317: May cause an allergic skin reaction.\n H319\n",
        "hazard_pictograms": ["GHS05", "GHS07"],
        "gtin": "09521234543213",
        "is_active": True,
        "offers": [],
    }


# 0 9521234 54321 3: the worked number of the GS1 demonstration prefix 952, its check digit by the
# rule of the GS1 General Specifications.
@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"code": "L-234"}, "own_code_refused"),
        ({"code": "GLUE A"}, "invalid_input"),
        ({"code": "G" * 25}, "invalid_input"),
        ({"code": ""}, "invalid_input"),
        ({"name": ""}, "invalid_input"),
        ({"name": "G" * 121}, "invalid_input"),
        ({"name": "G\x00"}, "invalid_input"),
        ({"kind": "gadget"}, "invalid_input"),
        ({"dimension": "time"}, "invalid_input"),
        ({"display_unit": "furlong"}, "invalid_input"),
        ({"display_unit": "each"}, "unit_mismatch"),
        ({"display_unit": "mL"}, "unit_mismatch"),
        ({"piece_mass_mg": "0"}, "measure_impossible"),
        ({"piece_mass_mg": "-1"}, "invalid_input"),
        ({"piece_mass_mg": "NaN"}, "invalid_input"),
        ({"piece_mass_mg": "Infinity"}, "invalid_input"),
        ({"piece_mass_mg": 0.5}, "invalid_input"),
        ({"piece_mass_mg": "12345678901234567890"}, "invalid_input"),
        ({"piece_mass_mg": "1234567890123"}, "invalid_input"),
        ({"piece_mass_mg": "0.0001"}, "invalid_input"),
        ({"density_mg_per_ul": "1.123456"}, "invalid_input"),
        ({"shelf_life_days": -1}, "invalid_input"),
        ({"shelf_life_days": 36_501}, "invalid_input"),
        ({"shelf_life_days": 1.5}, "invalid_input"),
        ({"made_life_minutes": 52_560_001}, "invalid_input"),
        ({"arrives": "held"}, "invalid_input"),
        ({"hazard_pictograms": ["GHS00"]}, "hazard_code_unknown"),
        ({"hazard_pictograms": ["GHS10"]}, "hazard_code_unknown"),
        ({"hazard_pictograms": ["ghs07"]}, "hazard_code_unknown"),
        ({"hazard_pictograms": "GHS07"}, "invalid_input"),
        ({"gtin": "9521234543214"}, "check_digit"),
        ({"gtin": "952123454321"}, "check_digit"),
        ({"gtin": "95212345432"}, "gs1_number"),
        # Prefixes 20 and 04, and a U.P.C. of number system 4: GS1's restricted circulation.
        ({"gtin": "2000000000015"}, "gs1_number_restricted"),
        ({"gtin": "0400000000015"}, "gs1_number_restricted"),
        ({"gtin": "400000000015"}, "gs1_number_restricted"),
        ({"storage_place": "NOWHERE"}, "not_found"),
        ({"model": "NONE"}, "not_found"),
        ({"colour": "red"}, "invalid_input"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_nothing_is_written(
    calling: Calling, lead: User, shelf: Place, fields: dict[str, Any], code: str
) -> None:
    refused = calling(lead).post("items/", with_changes(**fields))
    assert (refused.status_code, refused.json()["code"]) == (
        404 if code == "not_found" else 422,
        code,
    )
    assert not Item.objects.exists()


def test_the_last_values_that_can_be_meant_pass(calling: Calling, lead: User, shelf: Place) -> None:
    fields = with_changes(
        code="G" * 24,
        name="G" * 120,
        piece_mass_mg="999999999999.999",
        density_mg_per_ul="0.00001",
        shelf_life_days=36_500,
        made_life_minutes=52_560_000,
        hazard_pictograms=[f"GHS0{number}" for number in range(1, 10)],
    )
    entered = calling(lead).post("items/", fields)
    assert entered.status_code == 201, entered.json()
    assert entered.json()["piece_mass_mg"] == "999999999999.999"


def test_a_code_is_given_once_however_it_is_typed(
    calling: Calling, lead: User, shelf: Place
) -> None:
    caller = calling(lead)
    caller.post("items/", GLUE)
    refused = caller.post("items/", with_changes(code="GLUE-A", gtin=""))
    assert (refused.status_code, refused.json()["code"]) == (409, "duplicate_code")
    assert refused.json()["facts"] == {"code": "GLUE-A"}


def test_a_number_for_examples_belongs_in_the_demo_alone(
    calling: Calling, lead: User, shelf: Place, settings: Any
) -> None:
    settings.SHOP_GS1_PREFIX = ""
    refused = calling(lead).post("items/", with_changes())
    assert (refused.status_code, refused.json()["code"]) == (422, "gs1_number_restricted")
    assert not Item.objects.exists()
    settings.SHOP_IS_DEMO = True
    assert calling(lead).post("items/", with_changes()).status_code == 201


def test_a_gtin_names_one_item(calling: Calling, lead: User, shelf: Place) -> None:
    caller = calling(lead)
    caller.post("items/", GLUE)
    refused = caller.post("items/", with_changes(code="GLUE-B"))
    assert (refused.status_code, refused.json()["code"]) == (409, "duplicate_gtin")
    assert refused.json()["facts"] == {"gtin": "09521234543213", "item": "GLUE-A"}
    caller.post("items/", with_changes(code="GLUE-B", gtin=""))
    changed = caller.post("items/GLUE-B/change/", {"gtin": "9521234543213"})
    assert changed.json()["code"] == "duplicate_gtin"


def test_a_change_names_what_changes_and_is_kept(
    calling: Calling, lead: User, shelf: Place
) -> None:
    caller = calling(lead)
    caller.post("items/", GLUE)
    changed = caller.post("items/glue-a/change/", {"display_unit": "lb", "storage_place": None})
    assert changed.status_code == 200, changed.json()
    assert (changed.json()["display_unit"], changed.json()["storage_place"]) == ("lb", None)
    assert changed.json()["hazard_text"] == GLUE["hazard_text"]
    kept = Change.objects.filter(row_code="GLUE-A").latest("id")
    assert kept.by == lead
    assert kept.before == {"display_unit": "g", "storage_place": shelf.pk}
    assert kept.after == {"display_unit": "lb", "storage_place": None}


def test_a_display_unit_of_another_dimension_is_refused_in_a_change_too(
    calling: Calling, lead: User, hook: Item
) -> None:
    refused = calling(lead).post("items/HOOK-6/change/", {"display_unit": "kg"})
    assert (refused.status_code, refused.json()["code"]) == (422, "unit_mismatch")
    assert refused.json()["facts"]["units"] == ["each", "dozen", "gross"]


def test_the_dimension_changes_only_while_nothing_is_on_record(lead: User, resin: Item) -> None:
    changed = change_item(
        code="RESIN", fields={"dimension": "volume", "display_unit": "gal"}, by=lead, at=LATER
    )
    assert (changed.dimension, changed.display_unit) == ("volume", "gal")


def test_the_dimension_stays_once_there_is_a_lot(calling: Calling, lead: User, resin: Item) -> None:
    take_in_opening_lots(
        lots=[OpeningLot(item_code="RESIN", qty_base=1, value_micro=0)], stamp=stamp_at(lead)
    )
    refused = calling(lead).post(
        "items/RESIN/change/", {"dimension": "volume", "display_unit": "gal"}
    )
    assert (refused.status_code, refused.json()["code"]) == (409, "dimension_fixed")
    assert refused.json()["facts"]["used_by"] == ["lots"]


def test_the_dimension_stays_once_a_supplier_offers_packs_of_it(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    fields = {"dimension": "mass", "display_unit": "g"}
    refused = calling(lead).post("items/HOOK-6/change/", fields)
    assert (refused.status_code, refused.json()["code"]) == (409, "dimension_fixed")
    assert refused.json()["facts"]["used_by"] == ["offers"]


def test_an_item_is_taken_out_of_use_and_back_never_deleted(
    calling: Calling, lead: User, hook: Item
) -> None:
    caller = calling(lead)
    assert caller.post("items/HOOK-6/change/", {"is_active": False}).json()["is_active"] is False
    assert caller.get("items/", is_active="true").json()["count"] == 0
    assert caller.get("items/", is_active="false").json()["count"] == 1
    assert caller.client.delete("/api/v1/items/HOOK-6/").status_code == 405
    assert caller.post("items/HOOK-6/change/", {"is_active": True}).json()["is_active"] is True


def test_a_place_out_of_use_keeps_no_new_item(calling: Calling, lead: User, shelf: Place) -> None:
    change_place(code="SHELF-A", fields={"is_active": False}, by=lead, at=LATER)
    refused = calling(lead).post("items/", GLUE)
    assert (refused.status_code, refused.json()["code"]) == (409, "not_active")


def test_the_same_request_twice_enters_one_item(calling: Calling, lead: User, shelf: Place) -> None:
    caller = calling(lead)
    first, again = (caller.post("items/", GLUE, key="once") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert Item.objects.count() == 1
    other = caller.post("items/", with_changes(code="OTHER"), key="once")
    assert other.json()["code"] == "idempotency_key_reused"


def test_owner_and_lead_write_and_everybody_reads(
    calling: Calling, owner: User, molder: User, packer: User, viewer: User, shelf: Place
) -> None:
    for person in (molder, packer, viewer):
        refused = calling(person).post("items/", GLUE)
        assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
        assert calling(person).get("items/").status_code == 200
    assert calling(owner).post("items/", GLUE).status_code == 201


def test_lists_are_filtered_searched_and_ordered(
    calling: Calling, lead: User, hook_offer: Offer, resin: Item, paint: Item
) -> None:
    caller = calling(lead)
    caller.post("items/", GLUE)

    def codes(**query: str) -> list[str]:
        return [row["code"] for row in caller.get("items/", **query).json()["results"]]

    assert codes() == ["GLUE-A", "HOOK-6", "PAINT-RED", "RESIN"]
    assert codes(ordering="-code")[0] == "RESIN"
    assert codes(kind="paint") == ["PAINT-RED"]
    assert codes(dimension="count") == ["HOOK-6"]
    assert codes(supplier="hooks") == ["HOOK-6"]
    assert codes(storage_place="shelf-a", search="treble") == ["HOOK-6"]
    assert codes(has_hazard="true") == ["GLUE-A"]
    assert codes(has_hazard="false") == ["HOOK-6", "PAINT-RED", "RESIN"]
    assert caller.get("items/", kind="gadget").status_code == 422
    assert caller.get("items/", color="red").json()["code"] == "unknown_parameter"
    assert caller.get("items/", ordering="id").json()["code"] == "ordering_unknown"


def test_a_page_of_items_takes_two_queries_and_one_item_three(
    calling: Calling,
    lead: User,
    hook_offer: Offer,
    paint: Item,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(lead)
    with django_assert_num_queries(2):
        caller.get("items/")
    with django_assert_num_queries(3):
        caller.get("items/HOOK-6/")


def test_amounts_are_shown_in_the_unit_people_see_and_never_rounded(
    lead: User, resin: Item, hook: Item
) -> None:
    assert shown_amount(resin, 45_359_237) == Amount(Decimal(100), "lb")
    dozens = change_item(code="HOOK-6", fields={"display_unit": "dozen"}, by=lead, at=LATER)
    assert shown_amount(dozens, 144) == Amount(Decimal(12), "dozen")
    assert shown_amount(dozens, 145) == Amount(Decimal(145), "each")
    assert positive_base(resin, shown_amount(resin, 453_592)) == 453_592


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ({"amount": "1", "from": "lb", "to": "mL"}, 422, "unit_mismatch"),
        ({"amount": "1", "from": "lb", "to": "stone"}, 422, "invalid_input"),
        ({"amount": "-1", "from": "lb", "to": "oz"}, 422, "invalid_input"),
        ({"amount": "NaN", "from": "lb", "to": "oz"}, 422, "invalid_input"),
        ({"amount": "12345678901234567890", "from": "lb", "to": "oz"}, 422, "invalid_input"),
        ({"amount": "1", "to": "oz"}, 422, "invalid_input"),
        ({"amount": "1", "from": "lb", "to": "oz", "at": "1"}, 422, "unknown_parameter"),
    ],
)
def test_what_cannot_be_converted_is_refused(
    calling: Calling, viewer: User, resin: Item, query: dict[str, str], status: int, code: str
) -> None:
    refused = calling(viewer).get("items/RESIN/convert/", **query)
    assert (refused.status_code, refused.json()["code"]) == (status, code)


def test_an_amount_is_converted_exactly(calling: Calling, viewer: User, resin: Item) -> None:
    found = calling(viewer).get(
        "items/resin/convert/", **{"amount": "2.5", "from": "lb", "to": "oz"}
    )
    assert found.json() == {
        "item": "RESIN",
        "given": {"amount": "2.5", "unit": "lb"},
        "converted": {"amount": "40", "unit": "oz"},
        "is_exact": True,
        "kept": {"amount": "1133981", "unit": "mg"},
    }


def test_units_come_with_exact_factors(calling: Calling, viewer: User) -> None:
    units = {row["name"]: row for row in calling(viewer).get("units/").json()["units"]}
    # NIST SP 811 (2008): 1 lb = 0.45359237 kg exactly; 1 in = 25.4 mm exactly.
    assert units["lb"] == {
        "name": "lb",
        "label": "lb",
        "dimension": "mass",
        "base_unit": "mg",
        "base_units": "453592.37",
    }
    assert (units["in"]["base_unit"], units["in"]["base_units"]) == ("mm", "25.4")


def test_a_new_item_needs_what_says_how_it_is_measured(lead: User) -> None:
    with pytest.raises(Exception, match="cannot be used") as refused:
        create_item(code="X1", fields={"name": "No unit"}, by=lead, at=NOON)
    assert sorted(refused.value.facts["fields"]) == [  # type: ignore[attr-defined]
        "dimension",
        "display_unit",
        "kind",
    ]


def test_an_item_with_offers_carries_them(lead: User, hook_offer: Offer) -> None:
    assert [offer.supplier.code for offer in item_with_offers("hook-6").offers.all()] == ["HOOKS"]
