"""GTINs of the shop's own prefix: one an item, never given twice, refused without a prefix."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from biip.gtin import Gtin, GtinFormat

from inventory.catalog.errors import DuplicateGtinError, GtinNotOursError, NotActiveError
from inventory.catalog.models import Item, ItemGtin
from inventory.catalog.operations import allot_gtins, change_item, create_item
from inventory.catalog.steps import GtinAsk
from shopfloor.codes.errors import Gs1NumberError, NoPrefixError
from shopfloor.codes.gs1.numbers import CompanyPrefix, carton_gtin, printed_gtin
from shopfloor.errors import NotFoundError
from shopfloor.models import Change, User
from tests.inventory.conftest import NOON, Caller
from tests.needs import need_threads
from tests.racing import at_once, codes

Calling = Callable[[User], Caller]
PREFIX = CompanyPrefix("9521234")  # for demonstrations and examples only


@pytest.fixture
def lures(lead: User) -> list[str]:
    """L0 to L5, without a GTIN."""
    return [entered(lead, f"L{number}").code for number in range(6)]


def entered(by: User, code: str, **fields: Any) -> Item:
    given = {"name": code, "kind": "lure", "dimension": "count", "display_unit": "each", **fields}
    return create_item(code=code, fields=given, by=by, at=NOON)  # type: ignore[arg-type]


def allotted(by: User, *asks: str | GtinAsk) -> list[str]:
    """The GTINs that the items have then."""
    asked = [GtinAsk(ask) if isinstance(ask, str) else ask for ask in asks]
    return [item.gtin for item in allot_gtins(asks=asked, by=by, at=NOON)]


def test_each_item_gets_one_and_keeps_it(lead: User, lures: list[str]) -> None:
    first, second = allotted(lead, "L1", "L0")
    assert (first, second) == (PREFIX.gtin(0), PREFIX.gtin(1))
    assert allotted(lead, "L2", "L1", "L1") == [PREFIX.gtin(2), first, first]
    assert Item.objects.get(code="L0").gtin == second
    kept = Change.objects.filter(row_code="L0").latest("id")
    assert (kept.before, kept.after) == ({"gtin": ""}, {"gtin": second})


def test_another_library_reads_article_and_carton(lead: User, lures: list[str]) -> None:
    article, carton, next_carton = allotted(
        lead, "L0", GtinAsk("L1", carton_of="L0"), GtinAsk("L2", carton_of="L0")
    )
    read = Gtin.parse(printed_gtin(article))
    assert read.format == GtinFormat.GTIN_13
    assert (read.payload, read.check_digit) == ("952123400000", int(article[-1]))
    packed = Gtin.parse(printed_gtin(carton))
    assert (packed.format, packed.packaging_level) == (GtinFormat.GTIN_14, 1)
    assert packed.payload == f"1{read.payload}"
    assert Gtin.parse(next_carton).packaging_level == 2


def test_a_carton_is_no_article_of_its_own(lead: User, lures: list[str]) -> None:
    allotted(lead, "L0", GtinAsk("L1", carton_of="L0"))
    assert allotted(lead, "L2") == [PREFIX.gtin(1)]


def test_what_somebody_typed_or_had_is_stepped_over(lead: User, lures: list[str]) -> None:
    entered(lead, "TYPED", gtin=PREFIX.gtin(0))
    entered(lead, "CARTON", gtin=PREFIX.gtin(1, indicator=3))
    entered(lead, "OTHERS", gtin=CompanyPrefix("9521235").gtin(2))
    assert allotted(lead, "L0", "TYPED") == [PREFIX.gtin(2), PREFIX.gtin(0)]
    assert allotted(lead, GtinAsk("L1", carton_of="L0")) == [PREFIX.gtin(2, indicator=1)]


def test_a_number_taken_off_an_item_is_nobody_elses(lead: User, lures: list[str]) -> None:
    [first] = allotted(lead, "L0")
    change_item(code="L0", fields={"gtin": ""}, by=lead, at=NOON)
    assert allotted(lead, "L1") == [PREFIX.gtin(1)]
    with pytest.raises(DuplicateGtinError, match="L0 was given this GTIN"):
        change_item(code="L2", fields={"gtin": first}, by=lead, at=NOON)
    assert allotted(lead, "L0") == [first]
    assert ItemGtin.objects.count() == 2


@pytest.mark.parametrize(
    ("asks", "refusal", "said"),
    [
        ([GtinAsk("L0"), GtinAsk("NONE")], NotFoundError, "No item has this code"),
        ([GtinAsk("L0"), GtinAsk("OLD")], NotActiveError, "out of use"),
        ([GtinAsk("L0"), GtinAsk("L1", "NONE")], NotFoundError, "item"),
        ([GtinAsk("L0"), GtinAsk("L1", "L2")], GtinNotOursError, "L2 has no GTIN of the shop"),
        ([GtinAsk("L0"), GtinAsk("L1", "BOUGHT")], GtinNotOursError, "a maker's carton"),
        ([GtinAsk("L0"), GtinAsk("L1", "CASE")], GtinNotOursError, "CASE has no GTIN"),
    ],
)
def test_one_refused_leaves_the_others_without(
    lead: User, lures: list[str], asks: list[GtinAsk], refusal: type[Exception], said: str
) -> None:
    entered(lead, "OLD")
    change_item(code="OLD", fields={"is_active": False}, by=lead, at=NOON)
    entered(lead, "BOUGHT", gtin=CompanyPrefix("9521235").gtin(2))
    entered(lead, "CASE", gtin=PREFIX.gtin(7, indicator=1))
    with pytest.raises(refusal, match=said):
        allot_gtins(asks=asks, by=lead, at=NOON)
    assert not ItemGtin.objects.exists()
    assert Item.objects.get(code="L0").gtin == ""


def test_without_a_prefix_nothing_pretends_to_be_a_gtin(
    lead: User, lures: list[str], settings: Any
) -> None:
    settings.SHOP_GS1_PREFIX = ""
    with pytest.raises(NoPrefixError, match="SHOP_GS1_PREFIX"):
        allotted(lead, "L0")
    assert not ItemGtin.objects.exists()


def test_a_short_prefix_is_used_to_its_last_number(
    lead: User, lures: list[str], settings: Any
) -> None:
    settings.SHOP_GS1_PREFIX = "952123456789"  # 12 digits: one article
    assert allotted(lead, "L0") == ["09521234567899"]  # 121 by weights 3 and 1
    with pytest.raises(Gs1NumberError, match="no GTIN left: 1 are given"):
        allotted(lead, "L1")
    made = [GtinAsk(f"L{number}", carton_of="L0") for number in range(1, 6)]
    assert [gtin[0] for gtin in allotted(lead, *made)] == ["1", "2", "3", "4", "5"]


def test_a_gtin_of_its_own_does_not_fix_what_an_item_is_measured_by(
    lead: User, lures: list[str]
) -> None:
    allotted(lead, "L0")
    fields: Any = {"dimension": "mass", "display_unit": "kg"}
    assert change_item(code="L0", fields=fields, by=lead, at=NOON).dimension == "mass"


def test_over_the_door(calling: Calling, lead: User, lures: list[str], packer: User) -> None:
    body = {"items": [{"item": "l0"}, {"item": "L1", "carton_of": "L0"}]}
    told = calling(lead).post("gtins/", body, key="k1")
    assert told.status_code == 200, told.json()
    article, carton = PREFIX.gtin(0), PREFIX.gtin(0, indicator=1)
    assert told.json() == {
        "gtins": [
            {"item": "L0", "gtin": article, "printed": article[1:]},
            {"item": "L1", "gtin": carton, "printed": carton},
        ]
    }
    assert calling(lead).post("gtins/", body, key="k1").json() == told.json()
    assert calling(lead).get("items/L0/").json()["gtin"] == article
    assert calling(lead).post("gtins/", {"items": []}).status_code == 422
    assert calling(packer).post("gtins/", body).status_code == 403


@pytest.mark.django_db(transaction=True)
def test_of_many_who_ask_at_once_nobody_gets_anothers(lead: User, lures: list[str]) -> None:
    need_threads()

    def ask(*asked: str) -> object:
        return lambda: allotted(lead, *asked)

    asks = [ask("L0", "L1"), ask("L1", "L0"), ask("L2"), ask("L2"), ask("L3"), ask("L4", "L5")]
    assert codes(at_once(*asks)) == ["done"] * 6  # type: ignore[arg-type]  # each is called
    every = Item.objects.filter(code__in=lures).values_list("gtin", flat=True)
    assert sorted(every) == sorted(PREFIX.gtin(number) for number in range(6))


# --- Arithmetic ---


def test_where_all_cartons_have_a_number_it_ends() -> None:
    article = PREFIX.gtin(5)
    cartons = [PREFIX.gtin(5, indicator=indicator) for indicator in range(1, 9)]
    assert carton_gtin(article, cartons[:7]) == cartons[7]
    with pytest.raises(Gs1NumberError, match="all eight"):
        carton_gtin(article, cartons)


@pytest.mark.parametrize(
    ("kept", "printed"),
    [
        ("09521234543213", "9521234543213"),
        ("00012345678905", "012345678905"),
        ("19521234543210", "19521234543210"),
        ("00000095212345", "95212345"),
    ],
)
def test_articles_carry_a_number_without_the_zeros_before(kept: str, printed: str) -> None:
    assert printed_gtin(kept) == printed
