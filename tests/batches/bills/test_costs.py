"""Material cost by level: worked by hand, and where each unit cost comes from."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.bills.operations import change_revision, create_revision, release_bill
from batches.bills.selectors.costs import CostLine, CostSheet, CostSource, cost_sheet
from inventory.catalog.operations import (
    change_offer,
    change_supplier,
    create_offer,
    create_supplier,
)
from inventory.catalog.steps import PriceBreak
from inventory.purchasing.operations import receive_delivery, reverse_receipt
from inventory.purchasing.steps import ReceiptLineDraft
from inventory.stock.operations import hold_lot
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from tests.batches.floor import (
    LATER,
    NOON,
    amount,
    draft_bill,
    line,
    share,
    stamp_at,
    take_in,
)

MICRO = 10**6


def the_line(found: CostSheet, code: str) -> CostLine:
    return next(one for one in found.lines if one.item.code == code)


@pytest.fixture
def ring(floor_ready: None, lead: User) -> None:
    """A lure of two rings: whatever a ring costs shows in it."""
    draft_bill("LURE-70-PERCH", "RIGGING", line("RING", "2 each"), by=lead)
    release_bill(item_code="LURE-70-PERCH", number=1, by=lead, at=NOON)
    create_supplier(code="RINGS", fields={"name": "The ring supplier"}, by=lead, at=NOON)
    create_supplier(code="CHEAP", fields={"name": "The other supplier"}, by=lead, at=NOON)


def offer(
    supplier: str, pack: str, *prices: tuple[int, str], by: User, is_preferred: bool = False
) -> None:
    """An offer of rings; prices as packs from and the price of a pack."""
    breaks = [PriceBreak(packs, int(Decimal(price) * MICRO)) for packs, price in prices]
    create_offer(
        supplier_code=supplier,
        item_code="RING",
        pack=amount(pack),
        fields={"packs_min": 1, "prices": breaks, "is_preferred": is_preferred},
        by=by,
        at=NOON,
    )


def receive(by: User, pieces: str, *, worth: str, code: str) -> str:
    """A receipt of rings that wait for their test, so that none is released; its code."""
    received = ReceiptLineDraft(
        item_code="RING",
        amount=amount(pieces),
        value_micro=int(Decimal(worth) * MICRO),
        lot_code=code,
        disposition="quarantined",
    )
    return receive_delivery(supplier_code="RINGS", lines=[received], stamp=stamp_at(by)).code


def ring_cost() -> tuple[Fraction | None, CostSource]:
    """Of one ring, and where from."""
    found = the_line(cost_sheet("LURE-70-PERCH"), "RING")
    return found.micro_per_base, found.source


def test_the_average_of_released_lots_on_hand_comes_first(ring: None, lead: User) -> None:
    offer("RINGS", "100 each", (1, "5"), by=lead, is_preferred=True)
    receive(lead, "100 each", worth="4", code="RX")
    take_in("RING", 100, worth="3", by=lead)
    take_in("RING", 300, worth="5", by=lead)
    assert ring_cost() == (Fraction(20_000), CostSource("lots"))
    found = cost_sheet("LURE-70-PERCH")
    assert (found.source, found.unknown) == (CostSource("bill"), ())
    assert found.micro_per_base == 40_000


def test_held_lots_and_lots_of_others_have_no_say(ring: None, lead: User) -> None:
    offer("RINGS", "100 each", (1, "5"), by=lead)
    held = take_in("RING", 100, worth="3", by=lead)
    take_in("RING", 100, worth="0", by=lead, owner="A customer")
    hold_lot(lot_code=held.code, stamp=stamp_at(lead, reason="rust"))
    assert ring_cost() == (Fraction(50_000), CostSource("offer", "RINGS"))


def test_without_released_lots_the_last_receipt_counts(ring: None, lead: User) -> None:
    offer("RINGS", "100 each", (1, "5"), by=lead, is_preferred=True)
    receive(lead, "100 each", worth="9", code="RA")
    last = receive(lead, "200 each", worth="8", code="RB")
    assert ring_cost() == (Fraction(40_000), CostSource("receipt", last))


def test_a_reversed_receipt_does_not_count(ring: None, lead: User) -> None:
    first = receive(lead, "100 each", worth="9", code="RA")
    wrong = receive(lead, "200 each", worth="8", code="RB")
    reverse_receipt(receipt_code=wrong, stamp=stamp_at(lead, reason="slip of the pen"))
    assert ring_cost() == (Fraction(90_000), CostSource("receipt", first))


def test_the_preferred_offer_counts_though_another_is_cheaper(ring: None, lead: User) -> None:
    offer("CHEAP", "100 each", (1, "2"), by=lead)
    offer("RINGS", "100 each", (1, "5"), (10, "4"), by=lead, is_preferred=True)
    assert ring_cost() == (Fraction(50_000), CostSource("offer", "RINGS"))


def test_without_a_preferred_offer_the_cheapest_piece_counts(ring: None, lead: User) -> None:
    offer("RINGS", "100 each", (1, "5"), by=lead)
    offer("CHEAP", "1000 each", (1, "45"), by=lead)
    assert ring_cost() == (Fraction(45_000), CostSource("offer", "CHEAP"))


def test_an_offer_without_a_price_or_out_of_use_does_not_count(ring: None, lead: User) -> None:
    offer("RINGS", "100 each", by=lead, is_preferred=True)
    offer("RINGS", "1000 each", (1, "1"), by=lead)
    offer("CHEAP", "100 each", (1, "2"), by=lead)
    change_offer(
        supplier_code="RINGS",
        item_code="RING",
        pack=amount("1000 each"),
        fields={"is_active": False},
        by=lead,
        at=LATER,
    )
    assert ring_cost() == (Fraction(20_000), CostSource("offer", "CHEAP"))
    change_supplier(code="CHEAP", fields={"is_active": False}, by=lead, at=LATER)
    assert ring_cost() == (None, CostSource("unknown"))


def test_a_cost_that_is_not_known_is_named_and_never_taken_for_zero(
    released_bills: None, lead: User
) -> None:
    take_in("RESIN", 10**7, worth="30", by=lead)
    found = cost_sheet("BODY-70")
    assert (found.micro_per_base, found.source) == (None, CostSource("bill"))
    assert found.unknown == ("COLORANT", "GLUE-A", "GLUE-B", "HANGER", "RATTLE")
    assert the_line(found, "HALF-L").micro is None
    assert the_line(found, "RESIN").micro_per_base == 3


def test_value_zero_is_a_cost_when_a_lot_says_so(ring: None, lead: User) -> None:
    take_in("RING", 100, worth="0", by=lead)
    assert ring_cost() == (Fraction(0), CostSource("lots"))
    assert cost_sheet("LURE-70-PERCH").micro_per_base == 0


@pytest.fixture
def two_levels(floor_ready: None, lead: User) -> None:
    """A body of two halves of 4 g resin at 5.00/kg, half of the bodies scrapped, a pot of glue."""
    take_in("RESIN", 10**7, worth="50", by=lead)
    take_in("GLUE", 10**6, worth="100", by=lead)
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g", per_batch="100 g"), by=lead)
    draft_bill(
        "BODY-70",
        "GLUING",
        line("HALF-L", "2 each"),
        line("GLUE", "100 mg", per_batch="10 g", loss_ratio=Decimal("0.2")),
        line("REGRIND", "1 g", role="by_product", value_ratio=Decimal("0.1")),
        by=lead,
        scrap_ratio="0.5",
    )
    release_bill(item_code="HALF-L", number=1, by=lead, at=NOON)
    release_bill(item_code="BODY-70", number=1, by=lead, at=NOON)


def test_cost_rolls_up_through_losses_scrap_and_by_products(two_levels: None) -> None:
    found = cost_sheet("BODY-70")
    # A half: 4,000 mg x 5 micro = 20,000. A good body takes 4 halves and 250 mg of glue at 100
    # micro a mg: 80,000 + 25,000 = 105,000; a tenth of it leaves with the regrind.
    assert found.micro_per_base == Fraction(94_500)
    assert [(one.level, one.item.code) for one in found.lines] == [
        (1, "HALF-L"),
        (2, "RESIN"),
        (1, "GLUE"),
    ]
    assert [one.need_base for one in found.lines] == [Fraction(4), Fraction(16_000), Fraction(250)]
    assert [one.micro for one in found.lines] == [
        Fraction(80_000),
        Fraction(80_000),
        Fraction(25_000),
    ]


def test_a_batch_shares_what_goes_once_a_batch_at_every_level(two_levels: None) -> None:
    found = cost_sheet("BODY-70", batch=100)
    # The pot: 10,000 mg over 100 bodies is 100 mg more. The purge: 100 g over the 400 halves that
    # the batch takes is 250 mg more a half.
    assert the_line(found, "GLUE").need_base == 350
    assert the_line(found, "RESIN").need_base == 4 * (4000 + 250)
    assert found.micro_per_base == (4 * 4250 * 5 + 350 * 100) * Fraction("0.9")


def test_a_mixture_costs_by_its_own_unit(floor_ready: None, lead: User) -> None:
    take_in("GLUE-A", 10**5, worth="10", by=lead)
    take_in("GLUE-B", 10**5, worth="5", by=lead)
    lines = (share("GLUE-A", "60 g", "100 g"), share("GLUE-B", "40 g", "100 g"))
    draft_bill("GLUE", "MIXING", *lines, by=lead)
    release_bill(item_code="GLUE", number=1, by=lead, at=NOON)
    # 0.6 x 100 + 0.4 x 50 micro a milligram.
    assert cost_sheet("GLUE").micro_per_base == 80


def test_a_draft_can_be_costed_before_it_is_released(two_levels: None, lead: User) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    change_revision(item_code="HALF-L", number=2, lines=(line("RESIN", "5 g"),), by=lead, at=LATER)
    assert cost_sheet("HALF-L").micro_per_base == 20_000
    assert cost_sheet("HALF-L", number=2).micro_per_base == 25_000
    with pytest.raises(NotFoundError):
        cost_sheet("HALF-L", number=3)


def test_what_has_no_bill_costs_what_it_is_bought_at(two_levels: None) -> None:
    bought = cost_sheet("RESIN")
    assert (bought.source, bought.lines) == (CostSource("lots"), ())
    assert bought.micro_per_base == 5
    nothing = cost_sheet("EYE")
    assert (nothing.micro_per_base, nothing.source) == (None, CostSource("unknown"))
    assert nothing.unknown == ("EYE",)
    with pytest.raises(NotFoundError):
        cost_sheet("NONE")


def test_cost_takes_five_statements_however_deep_the_bills(
    released_bills: None, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(5):
        cost_sheet("GLUE")
    with django_assert_num_queries(5):
        cost_sheet("PACKED-70-PERCH", batch=500)
