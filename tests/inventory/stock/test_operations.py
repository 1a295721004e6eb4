"""What a person does to a lot, and what is refused."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item, Place
from inventory.stock.errors import (
    BalanceBelowZeroError,
    BooksClosedError,
    CountChangedError,
    HoldEndedError,
    LotCountedSinceError,
    LotNotThereYetError,
    LotOpenedBeforeError,
    LotShortError,
    NothingToDoError,
    WrongDispositionError,
)
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import (
    Found,
    OpeningLot,
    adjust_lot,
    close_books,
    count_lots,
    dispose_of_lot,
    extend_expiry,
    hold_lot,
    move_lot,
    open_lot,
    reject_lot,
    release_hold,
    release_lot,
    revalue_lot,
    split_off,
    take_in_opening_lots,
)
from shopfloor.models import User
from shopfloor.stamp import InFutureError, ReasonMissingError, Stamp
from tests.inventory.stock.conftest import LATER, NOON, stamp_at


def each(pieces: int) -> dict[str, str]:
    return {"amount": str(pieces), "unit": "each"}


def moved(lot: Lot) -> list[tuple[int, int]]:
    return list(
        Movement.objects.filter(lot=lot).order_by("id").values_list("qty_base", "value_micro")
    )


def test_taking_more_than_a_lot_holds_is_refused_and_writes_nothing(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    with pytest.raises(LotShortError) as refused:
        dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=501, stamp=stamp_at(lead, NOON))
    assert refused.value.facts["lots"] == [
        {"lot": lot_of_500_hooks.code, "on_hand": each(500), "wanted": each(501)}
    ]
    assert moved(lot_of_500_hooks) == [(500, 10_000_000)]


def test_the_last_unit_takes_the_rest_of_the_value(hook: Item, lead: User) -> None:
    lot = take_in_opening_lots(
        lots=[OpeningLot(item_code=hook.code, qty_base=3, value_micro=100)],
        stamp=stamp_at(lead, NOON),
    ).made[0]
    dispose_of_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, NOON))
    dispose_of_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, NOON))
    dispose_of_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, NOON))
    assert moved(lot) == [(3, 100), (-1, -33), (-1, -33), (-1, -34)]
    lot.refresh_from_db()
    assert (lot.on_hand_base, lot.value_micro) == (0, 0)


def test_a_split_makes_a_part_with_its_share_of_the_value(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    assert part.code == f"{lot_of_500_hooks.code}.1"
    assert moved(part) == [(200, 4_000_000)]
    assert moved(lot_of_500_hooks)[1:] == [(-200, -4_000_000)]
    again = split_off(lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON))
    assert again.code == f"{lot_of_500_hooks.code}.2"


def test_a_whole_lot_is_not_split(lot_of_500_hooks: Lot, lead: User) -> None:
    with pytest.raises(LotShortError):
        split_off(lot_code=lot_of_500_hooks.code, qty_base=500, stamp=stamp_at(lead, NOON))


def test_moving_a_part_makes_a_lot_there_and_moving_the_whole_keeps_it(
    lot_of_500_hooks: Lot, bench: Place, lead: User
) -> None:
    part = move_lot(
        lot_code=lot_of_500_hooks.code, place_code="BENCH", qty_base=100, stamp=stamp_at(lead, NOON)
    )
    assert (part.place, part.on_hand_base) == (bench, 100)
    whole = move_lot(lot_code=lot_of_500_hooks.code, place_code="BENCH", stamp=stamp_at(lead, NOON))
    assert (whole.pk, whole.place) == (lot_of_500_hooks.pk, bench)
    with pytest.raises(NothingToDoError):
        move_lot(lot_code=lot_of_500_hooks.code, place_code="BENCH", stamp=stamp_at(lead, NOON))


def test_an_opened_container_gets_its_opened_life(adhesive: Item, lead: User) -> None:
    lot = take_in_opening_lots(
        lots=[OpeningLot(item_code=adhesive.code, qty_base=1_000_000, value_micro=50)],
        stamp=stamp_at(lead, NOON),
    ).made[0]
    bottle = open_lot(lot_code=lot.code, qty_base=100_000, stamp=stamp_at(lead, NOON))
    assert bottle.discard_at == NOON + timedelta(minutes=60)
    lot.refresh_from_db()
    assert lot.opened_at is None
    with pytest.raises(LotOpenedBeforeError):
        open_lot(lot_code=bottle.code, stamp=stamp_at(lead, NOON))


def test_a_hold_stops_the_lot_and_its_parts_and_its_release_frees_them(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    part.refresh_from_db()
    assert part.disposition == "held"
    freed = release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))
    assert {lot.code for lot in freed} == {lot_of_500_hooks.code, part.code}
    with pytest.raises(HoldEndedError):
        release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))


def test_a_lot_under_two_holds_is_free_only_after_both(lot_of_500_hooks: Lot, lead: User) -> None:
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    whole_hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    part_hold = hold_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    release_hold(hold_code=whole_hold.code, stamp=stamp_at(lead, NOON))
    part.refresh_from_db()
    assert part.disposition == "held"
    release_hold(hold_code=part_hold.code, stamp=stamp_at(lead, NOON))
    part.refresh_from_db()
    assert part.disposition == "released"


def test_a_part_of_a_held_lot_is_held_by_the_same_hold(lot_of_500_hooks: Lot, lead: User) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    assert part.disposition == "held"
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))
    part.refresh_from_db()
    assert part.disposition == "released"


def test_a_lot_held_for_another_is_not_released_alone(lot_of_500_hooks: Lot, lead: User) -> None:
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    with pytest.raises(WrongDispositionError) as refused:
        release_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    assert refused.value.facts["holds"] == [
        {"hold": hold.code, "placed_on": lot_of_500_hooks.code, "reason": "for the test"}
    ]
    assert (
        release_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON)).disposition
        == "released"
    )


def test_a_rejected_lot_is_disposed_of_but_not_held(lot_of_500_hooks: Lot, lead: User) -> None:
    reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    with pytest.raises(WrongDispositionError):
        hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=500, stamp=stamp_at(lead, NOON))


def test_a_rejected_lot_stays_rejected_when_its_hold_ends(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    with pytest.raises(WrongDispositionError):
        release_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))
    lot_of_500_hooks.refresh_from_db()
    assert lot_of_500_hooks.disposition == "rejected"
    released = release_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    assert released.disposition == "released"


def test_a_hold_needs_a_reason(lot_of_500_hooks: Lot, lead: User) -> None:
    with pytest.raises(ReasonMissingError):
        hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON, reason=" "))


def test_a_count_posts_the_difference_with_its_value(lot_of_500_hooks: Lot, lead: User) -> None:
    count = count_lots(
        found=[Found(lot_code=lot_of_500_hooks.code, found_base=490, expected_base=500)],
        stamp=stamp_at(lead, NOON),
    )
    line = count.lines.get()
    assert (line.expected_base, line.found_base) == (500, 490)
    assert count.posting is not None
    assert (count.posting.outside_kind, count.posting.outside_micro) == (
        "count_difference",
        -200_000,
    )


def test_a_count_of_what_the_books_say_posts_nothing(lot_of_500_hooks: Lot, lead: User) -> None:
    count = count_lots(
        found=[Found(lot_code=lot_of_500_hooks.code, found_base=500)],
        stamp=stamp_at(lead, NOON, reason=""),
    )
    assert count.posting is None
    assert moved(lot_of_500_hooks) == [(500, 10_000_000)]


def test_a_surplus_in_an_empty_lot_is_worth_what_its_inflow_cost(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=500, stamp=stamp_at(lead, NOON))
    count_lots(
        found=[Found(lot_code=lot_of_500_hooks.code, found_base=7)],
        stamp=stamp_at(lead, NOON + timedelta(hours=1)),
    )
    assert moved(lot_of_500_hooks)[-1] == (7, 140_000)


def test_a_count_of_a_lot_that_changed_meanwhile_is_refused(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    with pytest.raises(CountChangedError):
        count_lots(
            found=[Found(lot_code=lot_of_500_hooks.code, found_base=490, expected_base=499)],
            stamp=stamp_at(lead, NOON),
        )


def test_nothing_is_backdated_behind_a_count(lot_of_500_hooks: Lot, lead: User) -> None:
    counted_at = NOON + timedelta(hours=2)
    count_lots(
        found=[Found(lot_code=lot_of_500_hooks.code, found_base=500)],
        stamp=stamp_at(lead, counted_at),
    )
    with pytest.raises(LotCountedSinceError):
        dispose_of_lot(
            lot_code=lot_of_500_hooks.code,
            qty_base=1,
            stamp=stamp_at(lead, counted_at - timedelta(seconds=1)),
        )
    dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, counted_at))


def test_a_backdated_posting_may_not_leave_too_little_at_any_time_since(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    dispose_of_lot(
        lot_code=lot_of_500_hooks.code,
        qty_base=450,
        stamp=stamp_at(lead, NOON + timedelta(hours=2)),
    )
    adjust_lot(
        lot_code=lot_of_500_hooks.code,
        qty_base=300,
        stamp=stamp_at(lead, NOON + timedelta(hours=4)),
    )
    with pytest.raises(BalanceBelowZeroError) as refused:
        dispose_of_lot(
            lot_code=lot_of_500_hooks.code,
            qty_base=51,
            stamp=stamp_at(lead, NOON + timedelta(hours=1)),
        )
    assert refused.value.facts["lots"] == [
        {"lot": lot_of_500_hooks.code, "least_since": each(50), "wanted": each(51)}
    ]
    dispose_of_lot(
        lot_code=lot_of_500_hooks.code, qty_base=50, stamp=stamp_at(lead, NOON + timedelta(hours=1))
    )


def test_nothing_is_taken_before_the_lot_came_in(lot_of_500_hooks: Lot, lead: User) -> None:
    with pytest.raises(LotNotThereYetError):
        dispose_of_lot(
            lot_code=lot_of_500_hooks.code,
            qty_base=1,
            stamp=stamp_at(lead, NOON - timedelta(seconds=1)),
        )


def test_the_future_is_refused(lead: User) -> None:
    with pytest.raises(InFutureError):
        Stamp(by=lead, at=LATER + timedelta(seconds=1), now=LATER)


def test_nothing_is_posted_into_closed_books(lot_of_500_hooks: Lot, lead: User) -> None:
    close_books(through=(NOON + timedelta(days=1)).date(), stamp=stamp_at(lead, LATER))
    with pytest.raises(BooksClosedError):
        dispose_of_lot(
            lot_code=lot_of_500_hooks.code,
            qty_base=1,
            stamp=stamp_at(lead, NOON + timedelta(days=1)),
        )
    dispose_of_lot(
        lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON + timedelta(days=2))
    )


def test_late_freight_raises_the_value_and_not_the_amount(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    posted = revalue_lot(
        lot_code=lot_of_500_hooks.code,
        value_micro=500_000,
        stamp=stamp_at(lead, NOON),
        document="INV-1",
    )
    assert (posted.posting.outside_kind, posted.posting.outside_micro) == ("purchase", 500_000)
    assert moved(lot_of_500_hooks)[-1] == (0, 500_000)


def test_an_expiry_is_extended_only_to_later(adhesive: Item, lead: User) -> None:
    lot = take_in_opening_lots(
        lots=[
            OpeningLot(
                item_code=adhesive.code,
                qty_base=5,
                value_micro=0,
                expires_at=NOON + timedelta(days=1),
            )
        ],
        stamp=stamp_at(lead, NOON),
    ).made[0]
    with pytest.raises(Exception, match="later"):
        extend_expiry(
            lot_code=lot.code, expires_at=NOON + timedelta(days=1), stamp=stamp_at(lead, NOON)
        )
    longer = extend_expiry(
        lot_code=lot.code, expires_at=NOON + timedelta(days=2), stamp=stamp_at(lead, NOON)
    )
    assert longer.expires_at == NOON + timedelta(days=2)


def test_a_lot_code_is_given_once(hook: Item, lead: User) -> None:
    own = OpeningLot(item_code=hook.code, qty_base=1, value_micro=0, lot_code="BAG-7")
    take_in_opening_lots(lots=[own], stamp=stamp_at(lead, NOON))
    with pytest.raises(DuplicateCodeError) as refused:
        take_in_opening_lots(lots=[own], stamp=stamp_at(lead, NOON))
    assert refused.value.facts["codes"] == ["BAG-7"]
