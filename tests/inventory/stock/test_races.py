"""Several at one lot, on a database of several connections."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.catalog.models import Item, Place
from inventory.stock.errors import BooksClosedError
from inventory.stock.models import BooksClosing, Count, Lot, Posting
from inventory.stock.operations import (
    Found,
    OpeningLot,
    close_books,
    count_lots,
    dispose_of_lot,
    hold_lot,
    move_lot,
    release_hold,
    split_off,
    take_in_opening_lots,
)
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import RequestKey, User
from shopfloor.operation import Answer, KeyReusedError, RequestToken
from tests.inventory.stock.conftest import LATER, NOON, stamp_at
from tests.needs import need_threads
from tests.racing import at_once, codes, inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)

HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def differences() -> list[str]:
    return [line for proof in ledger_proofs() for line in proof.differences]


def test_eight_who_send_the_same_with_one_key_take_once_and_get_one_answer(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    token = RequestToken(user_id=lead.pk, key="the same", fingerprint="f")

    def dispose() -> object:
        asked = dispose_of_lot.answering(token, lambda posted: posted.posting.code)
        return asked(lot_code=lot_of_500_hooks.code, qty_base=100, stamp=stamp_at(lead, NOON))

    answers = at_once(*[dispose] * 8)
    posting = Posting.objects.get(kind="disposed")
    assert answers == [Answer(201, posting.code)] * 8
    lot_of_500_hooks.refresh_from_db()
    assert (lot_of_500_hooks.on_hand_base, RequestKey.objects.get().status) == (400, 201)


def test_of_two_who_send_different_things_with_one_key_one_is_told(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    def dispose(qty_base: int) -> object:
        token = RequestToken(user_id=lead.pk, key="the same", fingerprint=str(qty_base))
        asked = dispose_of_lot.answering(token, lambda posted: posted.posting.code)
        return asked(lot_code=lot_of_500_hooks.code, qty_base=qty_base, stamp=stamp_at(lead, NOON))

    told = codes(at_once(lambda: dispose(1), lambda: dispose(2)))
    assert told == ["done", KeyReusedError.code]
    assert Posting.objects.filter(kind="disposed").count() == 1


def test_of_eight_who_each_want_the_last_hundred_hooks_one_gets_them(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=400, stamp=stamp_at(lead, NOON))

    def dispose() -> object:
        return dispose_of_lot(
            lot_code=lot_of_500_hooks.code, qty_base=100, stamp=stamp_at(lead, NOON)
        )

    assert codes(at_once(*[dispose] * 8)) == ["done", *["lot_short"] * 7]
    lot_of_500_hooks.refresh_from_db()
    assert (lot_of_500_hooks.on_hand_base, lot_of_500_hooks.value_micro) == (0, 0)
    assert differences() == []


def test_eight_parts_split_off_at_once_have_codes_of_their_own(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    def split() -> object:
        return split_off(lot_code=lot_of_500_hooks.code, qty_base=50, stamp=stamp_at(lead, NOON))

    assert codes(at_once(*[split] * 8)) == ["done"] * 8
    parts = Lot.objects.filter(parent=lot_of_500_hooks).values_list("code", flat=True)
    assert sorted(parts) == [f"{lot_of_500_hooks.code}.{number}" for number in range(1, 9)]
    lot_of_500_hooks.refresh_from_db()
    assert lot_of_500_hooks.on_hand_base == 100
    assert differences() == []


def test_a_lot_that_is_moved_while_somebody_waits_for_it_is_found(
    lot_of_500_hooks: Lot, bench: Place, lead: User
) -> None:
    answers = one_behind_the_other(
        lambda: inside(move_lot)(
            lot_code=lot_of_500_hooks.code, place_code=bench.code, stamp=stamp_at(lead, NOON)
        ),
        lambda: dispose_of_lot(
            lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON)
        ),
    )
    assert codes(answers) == ["done", "done"]


def test_a_part_split_off_while_the_hold_ends_is_free_too(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    one_behind_the_other(
        lambda: inside(split_off)(
            lot_code=lot_of_500_hooks.code, qty_base=50, stamp=stamp_at(lead, NOON)
        ),
        lambda: release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON)),
    )
    assert set(Lot.objects.values_list("disposition", flat=True)) == {"released"}
    assert differences() == []


def test_a_part_split_off_while_the_lot_is_held_is_held_too(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    one_behind_the_other(
        lambda: inside(split_off)(
            lot_code=lot_of_500_hooks.code, qty_base=50, stamp=stamp_at(lead, NOON)
        ),
        lambda: hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON)),
    )
    assert set(Lot.objects.values_list("disposition", flat=True)) == {"held"}
    assert differences() == []


def test_a_hold_is_released_once(lot_of_500_hooks: Lot, lead: User) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))

    def release() -> object:
        return release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))

    assert codes(at_once(*[release] * 4)) == ["done", *["hold_ended"] * 3]


def test_a_count_sees_what_was_taken_while_it_waited(lot_of_500_hooks: Lot, lead: User) -> None:
    answers = one_behind_the_other(
        lambda: inside(dispose_of_lot)(
            lot_code=lot_of_500_hooks.code, qty_base=10, stamp=stamp_at(lead, NOON)
        ),
        lambda: count_lots(
            found=[Found(lot_of_500_hooks.code, 500, expected_base=500)], stamp=stamp_at(lead, NOON)
        ),
    )
    assert codes(answers) == ["count_changed", "done"]
    assert not Count.objects.exists()


def test_nothing_is_taken_out_of_books_that_are_closed_meanwhile(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    answers = one_behind_the_other(
        lambda: inside(close_books)(through=NOON.date(), stamp=stamp_at(lead, LATER)),
        lambda: dispose_of_lot(
            lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON)
        ),
    )
    assert isinstance(answers[1], BooksClosedError)


def test_nothing_comes_into_books_that_are_closed_meanwhile(hook: Item, lead: User) -> None:
    close_books(through=NOON.date() - timedelta(days=9), stamp=stamp_at(lead, LATER))
    opening = OpeningLot(item_code=hook.code, qty_base=1, value_micro=0)
    answers = one_behind_the_other(
        lambda: inside(close_books)(through=NOON.date(), stamp=stamp_at(lead, LATER)),
        lambda: take_in_opening_lots(lots=[opening], stamp=stamp_at(lead, NOON)),
    )
    assert isinstance(answers[1], BooksClosedError)


def test_books_are_closed_once_the_postings_under_way_have_ended(
    hook: Item, lot_of_500_hooks: Lot, lead: User
) -> None:
    opening = OpeningLot(item_code=hook.code, qty_base=1, value_micro=0)

    def close() -> object:
        closing = close_books(
            through=NOON.date() + BooksClosing.objects.count() * timedelta(days=1),
            stamp=stamp_at(lead, LATER),
        )
        return (closing.through, Posting.objects.count())

    taken = one_behind_the_other(
        lambda: inside(dispose_of_lot)(
            lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON)
        ),
        close,
    )
    made = one_behind_the_other(
        lambda: inside(take_in_opening_lots)(
            lots=[opening], stamp=stamp_at(lead, NOON + timedelta(days=1))
        ),
        close,
    )
    assert taken[1] == (NOON.date(), 2)
    assert made[1] == (NOON.date() + timedelta(days=1), 3)
