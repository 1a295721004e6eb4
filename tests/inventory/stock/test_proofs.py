"""Each difference that somebody could bring into the tables is found by its proof.

Behind the product's back: the triggers go, plain SQL writes, the triggers come back.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.catalog.models import Place
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import (
    adjust_lot,
    dispose_of_lot,
    hold_lot,
    move_lot,
    reject_lot,
    release_hold,
    split_off,
)
from inventory.stock.selectors import proofs
from inventory.stock.selectors.proofs import ledger_proofs
from inventory.stock.steps import reverse_posting
from shopfloor import append_only
from shopfloor.models import User
from shopfloor.operation import RequestToken
from tests.inventory.stock.conftest import NOON, stamp_at

HOUR = timedelta(hours=1)

ON_HAND = "On hand and value of each lot equal the sum of its movements"
ADDS_UP = "The values of each posting add up to what came from or went outside"
WHOLE = "All that ever came from outside is on the shelves now"
BELOW = "No lot was below nothing at any time, by business time"
MIRROR = "Each reversal is the mirror of what it reverses"
BEFORE = "What flows into a lot stood before it, so no lot is made of itself"
DISPOSITION = "The disposition of each lot is what its last event says"
HELD = "A lot under an open hold is held or rejected, and a held lot is under an open hold"
NET = "All that is left of what an open hold flowed into is under that hold"
PLACE = "The place of each lot is where its last event put it"
ANSWERED = "Every request that was carried out has its answer"
TRIGGERS = "Every append-only table is guarded by its triggers"


def found() -> dict[str, list[str]]:
    """The differences of each proof that has some."""
    return {proof.title: proof.differences for proof in ledger_proofs() if proof.differences}


@contextmanager
def behind_the_triggers() -> Iterator[None]:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    append_only.drop_triggers()
    yield
    append_only.install_triggers()


def inject(sql: str, *values: int | str | None) -> None:
    with behind_the_triggers(), connection.cursor() as cursor:
        cursor.execute(sql, values)


@pytest.fixture
def part(lot_of_500_hooks: Lot, lead: User) -> Lot:
    """200 of the 500 hooks, so that something flowed."""
    return split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))


def test_a_sound_ledger_has_no_differences_and_says_how_much_was_compared(
    lot_of_500_hooks: Lot, part: Lot, bench: Place, lead: User
) -> None:
    move_lot(lot_code=part.code, place_code=bench.code, stamp=stamp_at(lead, NOON))
    reject_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    assert found() == {}
    assert {proof.title: proof.compared for proof in ledger_proofs()} == {
        ON_HAND: 2,
        ADDS_UP: 2,
        WHOLE: 2,
        "No lot holds or is worth less than nothing, and an emptied one is worth nothing": 2,
        BELOW: 3,
        MIRROR: 0,
        BEFORE: 1,
        DISPOSITION: 2,
        HELD: 2,
        NET: 1,
        PLACE: 1,
        ANSWERED: 0,
        TRIGGERS: len(append_only.expected_triggers(connection.vendor)),
    }


def test_a_wrong_amount_on_hand_is_found(lot_of_500_hooks: Lot) -> None:
    inject("UPDATE inventory_lot SET on_hand_base = 499")
    says = (
        f"lot {lot_of_500_hooks.code}: on hand 499, its movements 500;"
        " value 10000000, its movements 10000000"
    )
    assert found() == {ON_HAND: [says]}


def test_a_wrong_value_is_found_in_the_lot_and_in_the_whole(lot_of_500_hooks: Lot) -> None:
    inject("UPDATE inventory_lot SET value_micro = value_micro + 1")
    says = (
        f"lot {lot_of_500_hooks.code}: on hand 500, its movements 500;"
        " value 10000001, its movements 10000000"
    )
    assert found() == {
        ON_HAND: [says],
        WHOLE: ["the whole: outside 10000000, on the shelves 10000001"],
    }


def test_a_lot_without_any_movement_is_found(lot_of_500_hooks: Lot) -> None:
    inject("DELETE FROM inventory_movement")
    assert set(found()) == {ON_HAND, ADDS_UP}


def test_a_posting_that_does_not_add_up_is_found(lot_of_500_hooks: Lot) -> None:
    inject("UPDATE inventory_posting SET outside_micro = 9999999")
    assert found() == {
        ADDS_UP: [f"posting {Posting.objects.get().pk}: outside 9999999, its movements 10000000"],
        WHOLE: ["the whole: outside 9999999, on the shelves 10000000"],
    }


def test_a_posting_without_movements_is_found(lot_of_500_hooks: Lot) -> None:
    inject(
        "INSERT INTO inventory_posting (kind, at, recorded_at, by_id, reason, outside_kind,"
        " outside_micro, document_kind, document_code)"
        " SELECT kind, at, recorded_at, by_id, reason, '', 0, '', '' FROM inventory_posting"
    )
    last = Posting.objects.latest("pk").pk
    assert found() == {ADDS_UP: [f"posting {last}: outside 0, its movements 0"]}


def test_a_changed_movement_is_found_everywhere_it_counts(part: Lot) -> None:
    inject("UPDATE inventory_movement SET value_micro = -1, qty_base = -1 WHERE qty_base = -200")
    assert set(found()) == {ON_HAND, ADDS_UP}


@pytest.mark.parametrize(
    "change",
    [
        "on_hand_base = 0",
        "on_hand_base = -1, value_micro = 0",
        "value_micro = -1",
        "owner = 'a customer'",
    ],
)
def test_the_table_itself_refuses_a_lot_that_cannot_be(lot_of_500_hooks: Lot, change: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE inventory_lot SET {change}")  # noqa: S608 - the test's own words


@pytest.mark.parametrize("change", ["qty_base = 0, value_micro = 0", "value_micro = -1"])
def test_the_table_itself_refuses_a_movement_that_cannot_be(
    lot_of_500_hooks: Lot, change: str
) -> None:
    with (
        behind_the_triggers(),
        pytest.raises(IntegrityError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(f"UPDATE inventory_movement SET {change}")  # noqa: S608 - as above


def test_a_lot_that_was_below_nothing_for_a_while_is_found(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    lot = lot_of_500_hooks
    dispose_of_lot(lot_code=lot.code, qty_base=400, stamp=stamp_at(lead, NOON + 2 * HOUR))
    adjust_lot(lot_code=lot.code, qty_base=400, stamp=stamp_at(lead, NOON + 4 * HOUR))
    last = dispose_of_lot(lot_code=lot.code, qty_base=300, stamp=stamp_at(lead, NOON + 5 * HOUR))
    moment = connection.ops.adapt_datetimefield_value(NOON + HOUR)
    inject("UPDATE inventory_posting SET at = %s WHERE id = %s", moment, last.posting.pk)
    assert found() == {BELOW: [f"lot {lot.code}: as low as -200"]}


def test_a_lot_that_was_used_before_it_came_in_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    lot = lot_of_500_hooks
    taken = dispose_of_lot(lot_code=lot.code, qty_base=300, stamp=stamp_at(lead, NOON + HOUR))
    before = connection.ops.adapt_datetimefield_value(lot.born_at - HOUR)
    inject("UPDATE inventory_posting SET at = %s WHERE id = %s", before, taken.posting.pk)
    assert found() == {BELOW: [f"lot {lot.code}: as low as -300"]}


def test_a_lot_that_lost_more_than_it_gained_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    taken = dispose_of_lot(
        lot_code=lot_of_500_hooks.code, qty_base=300, stamp=stamp_at(lead, NOON + HOUR)
    )
    inject("UPDATE inventory_movement SET qty_base = -501 WHERE posting_id = %s", taken.posting.pk)
    assert found()[BELOW] == [f"lot {lot_of_500_hooks.code}: as low as -1"]


def test_a_lot_that_nothing_brought_in_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    dispose_of_lot(lot_code=lot_of_500_hooks.code, qty_base=300, stamp=stamp_at(lead, NOON + HOUR))
    inject("DELETE FROM inventory_movement WHERE qty_base > 0")
    assert found()[BELOW] == [f"lot {lot_of_500_hooks.code}: as low as -300"]


def test_a_shop_worth_more_than_64_bits_is_proved(
    lot_of_500_hooks: Lot, part: Lot, bench: Place
) -> None:
    inject("UPDATE inventory_movement SET value_micro = %s WHERE qty_base = 500", 2**62)
    inject("UPDATE inventory_posting SET outside_micro = %s WHERE outside_micro > 0", 2**62)
    inject("UPDATE inventory_lot SET value_micro = %s", 2**62)
    assert found()[WHOLE] == [f"the whole: outside {2**62}, on the shelves {2**63}"]


@pytest.mark.only_on("sqlite")  # PostgreSQL adds up beyond 64 bits
def test_movements_beyond_what_the_database_can_add_up_are_a_difference(
    lot_of_500_hooks: Lot, part: Lot
) -> None:
    inject("UPDATE inventory_movement SET value_micro = %s WHERE qty_base > 0", 2**63 - 1)
    inject("UPDATE inventory_movement SET value_micro = %s WHERE qty_base = 200", 2**62)
    inject(
        "INSERT INTO inventory_movement (posting_id, lot_id, qty_base, value_micro)"
        " SELECT posting_id, lot_id, 1, %s FROM inventory_movement WHERE qty_base = 500",
        2**62,
    )
    assert found()[ON_HAND] == ["an amount or value is so far off that its sum is beyond 64 bits"]


def test_a_reversal_that_is_no_mirror_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    taken = dispose_of_lot(
        lot_code=lot_of_500_hooks.code, qty_base=10, stamp=stamp_at(lead, NOON)
    ).posting
    with transaction.atomic():
        back = reverse_posting(taken, stamp_at(lead, NOON)).posting
    assert found() == {}
    inject("UPDATE inventory_movement SET qty_base = 9 WHERE posting_id = %s", back.pk)
    inject("UPDATE inventory_lot SET on_hand_base = 499")
    assert found() == {MIRROR: [f"posting {back.pk} does not mirror posting {taken.pk}"]}


def test_a_reversal_of_too_few_lots_is_found(lot_of_500_hooks: Lot, part: Lot, lead: User) -> None:
    split = Posting.objects.get(kind="split")
    with transaction.atomic():
        back = reverse_posting(split, stamp_at(lead, NOON)).posting
    inject("DELETE FROM inventory_movement WHERE posting_id = %s", back.pk)
    assert MIRROR in found()


def test_a_lot_made_of_a_later_one_is_found(lot_of_500_hooks: Lot, part: Lot) -> None:
    inject(
        "UPDATE inventory_movement SET lot_id = CASE WHEN lot_id = %s THEN %s ELSE %s END"
        " WHERE posting_id = %s",
        part.pk,
        lot_of_500_hooks.pk,
        part.pk,
        Posting.objects.get(kind="split").pk,
    )
    assert BEFORE in found()


def test_a_disposition_that_no_event_says_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    inject("UPDATE inventory_lot SET disposition = 'released'")
    assert found() == {
        DISPOSITION: [f"lot {lot_of_500_hooks.code}: is released, its last event says rejected"]
    }


def test_a_lot_that_is_free_though_held_or_held_though_free_is_found(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    inject("UPDATE inventory_lot SET disposition = 'held'")
    says = f"lot {lot_of_500_hooks.code} is held, which its holds do not say"
    assert found() == {HELD: [says]}
    inject("UPDATE inventory_lot SET disposition = 'released'")
    hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    inject("UPDATE inventory_lot SET disposition = 'released'")
    assert set(found()) == {HELD, DISPOSITION}


def test_a_lot_that_a_hold_overlooked_is_found(
    lot_of_500_hooks: Lot, part: Lot, lead: User
) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    inject("DELETE FROM inventory_heldlot WHERE lot_id = %s", part.pk)
    says = f"lot {part.code} came out of what hold number {hold.pk} stops, and is not under it"
    assert found()[NET] == [says]
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))
    assert NET not in found()


def test_a_lot_that_stands_elsewhere_than_its_last_event_says_is_found(
    lot_of_500_hooks: Lot, bench: Place, lead: User
) -> None:
    move_lot(lot_code=lot_of_500_hooks.code, place_code=bench.code, stamp=stamp_at(lead, NOON))
    inject(
        "UPDATE inventory_lot SET place_id = (SELECT id FROM inventory_place WHERE code='SHELF-A')"
    )
    says = f"lot {lot_of_500_hooks.code}: stands at SHELF-A, its last event says BENCH"
    assert found() == {PLACE: [says]}


def test_a_request_without_its_answer_is_found(lot_of_500_hooks: Lot, lead: User) -> None:
    token = RequestToken(user_id=lead.pk, key="k", fingerprint="f")
    asked = dispose_of_lot.answering(token, lambda posted: posted.posting.code)
    asked(lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON))
    assert found() == {}
    inject("UPDATE shopfloor_requestkey SET status = NULL")
    assert list(found()) == [ANSWERED]


def test_a_missing_trigger_is_found(db: None) -> None:
    append_only.drop_triggers()
    names = sorted(append_only.expected_triggers(connection.vendor))
    assert found() == {TRIGGERS: [f"trigger {name} is missing or switched off" for name in names]}
    append_only.install_triggers()
    assert found() == {}


def test_a_hundred_differences_are_named_and_the_rest_counted(
    lot_of_500_hooks: Lot, lead: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proofs, "MOST_NAMED", 3)
    for _ in range(4):
        split_off(lot_code=lot_of_500_hooks.code, qty_base=1, stamp=stamp_at(lead, NOON))
    inject("UPDATE inventory_lot SET on_hand_base = on_hand_base + 1")
    assert len(found()[ON_HAND]) == 4
    assert found()[ON_HAND][3] == "and 2 more"
