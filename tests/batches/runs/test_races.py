"""Several at the bench at once, on a database of several connections."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.runs.models import Batch, Entry
from batches.runs.operations import complete_batch, plan, record, reverse, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse
from inventory.catalog.operations import create_place
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import hold_lot, move_lot, release_hold
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import RequestKey, User
from shopfloor.operation import Answer, RequestToken
from tests.batches.runs.conftest import NOON, running, stamp_at, stock
from tests.needs import need_threads
from tests.racing import at_once, codes, inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def differences() -> list[str]:
    return [line for proof in ledger_proofs() for line in proof.differences]


def drafted(batch: Batch, pieces: int, *lots: LotUse) -> EntryDraft:
    return EntryDraft(batch_code=batch.code, good=[GoodTally(pieces)], lots=lots)


def entering(batch: Batch, pieces: int, *, by: User) -> Callable[[], object]:
    return lambda: record(draft=drafted(batch, pieces), stamp=stamp_at(by))


def rework(by: User) -> Batch:
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=4, rework_stage="GLUING"), stamp=stamp_at(by)
    )
    return start_batch(batch_code=batch.code, stamp=stamp_at(by))


def test_two_entries_of_one_batch_at_once_take_the_amount_a_batch_once(shop: User) -> None:
    stock(shop, "HALF", 500)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")

    def enter() -> object:
        return record(draft=drafted(batch, 10), stamp=stamp_at(shop))

    assert codes(at_once(enter, enter)) == ["done", "done"]
    adhesive.refresh_from_db()
    assert adhesive.on_hand_base == 100_000 - 5_000 - 2 * 1_500


def test_an_entry_that_waited_for_the_first_one_does_not_take_the_amount_a_batch_again(
    shop: User,
) -> None:
    stock(shop, "HALF", 500)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    one_behind_the_other(
        lambda: inside(record)(draft=drafted(batch, 10), stamp=stamp_at(shop)),
        lambda: record(draft=drafted(batch, 10), stamp=stamp_at(shop)),
    )
    adhesive.refresh_from_db()
    assert adhesive.on_hand_base == 100_000 - 5_000 - 2 * 1_500


def test_a_batch_is_completed_right_behind_its_first_entry(shop: User) -> None:
    stock(shop, "HALF", 500)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    answers = one_behind_the_other(
        lambda: inside(record)(draft=drafted(batch, 10), stamp=stamp_at(shop)),
        lambda: complete_batch(batch_code=batch.code, stamp=stamp_at(shop)),
    )
    assert codes(answers) == ["done", "done"]


def test_an_entry_that_waited_for_a_lot_now_empty_takes_the_next_one(shop: User) -> None:
    first, second = stock(shop, "HALF", 20), stock(shop, "HALF", 30)
    stock(shop, "ADH-A", 100_000)
    one, other = running(shop, "BODY"), running(shop, "BODY")
    answers = one_behind_the_other(
        lambda: inside(record)(draft=drafted(one, 10), stamp=stamp_at(shop)),
        lambda: record(draft=drafted(other, 10), stamp=stamp_at(shop)),
    )
    assert codes(answers) == ["done", "done"]
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.on_hand_base, second.on_hand_base) == (0, 10)


def test_a_lot_that_is_moved_while_an_entry_waits_for_it_is_taken_all_the_same(
    shop: User,
) -> None:
    create_place(code="BENCH", fields={"name": "Bench", "kind": "bench"}, by=shop, at=NOON)
    halves = stock(shop, "HALF", 500)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    answers = one_behind_the_other(
        lambda: inside(move_lot)(lot_code=halves.code, place_code="BENCH", stamp=stamp_at(shop)),
        lambda: record(draft=drafted(batch, 10), stamp=stamp_at(shop)),
    )
    assert codes(answers) == ["done", "done"]
    halves.refresh_from_db()
    assert halves.on_hand_base == 480


def test_what_an_entry_makes_of_a_lot_while_it_is_held_is_held(shop: User) -> None:
    stock(shop, "HALF", 500)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    one_behind_the_other(
        lambda: inside(record)(draft=drafted(batch, 10), stamp=stamp_at(shop)),
        lambda: hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop)),
    )
    assert Lot.objects.get(item__code="BODY").disposition == "held"
    assert differences() == []


def test_what_an_entry_makes_while_a_hold_far_upstream_is_placed_is_held(shop: User) -> None:
    resin = stock(shop, "RESIN", 1_000_000)
    stock(shop, "ADH-A", 100_000)
    record(draft=drafted(running(shop, "HALF"), 20), stamp=stamp_at(shop))
    gluing = running(shop, "BODY")
    one_behind_the_other(
        lambda: inside(record)(draft=drafted(gluing, 5), stamp=stamp_at(shop)),
        lambda: hold_lot(lot_code=resin.code, stamp=stamp_at(shop)),
    )
    assert Lot.objects.get(item__code="BODY").disposition == "held"
    assert differences() == []


def test_what_rework_makes_while_the_hold_ends_is_freed_with_the_rest(shop: User) -> None:
    bodies = stock(shop, "BODY", 10, 500)
    hold = hold_lot(lot_code=bodies.code, stamp=stamp_at(shop))
    batch = rework(shop)
    one_behind_the_other(
        lambda: inside(record)(
            draft=drafted(batch, 4, LotUse(bodies.code, 4)), stamp=stamp_at(shop)
        ),
        lambda: release_hold(hold_code=hold.code, stamp=stamp_at(shop)),
    )
    assert set(Lot.objects.values_list("disposition", flat=True)) == {"released"}
    assert differences() == []


def test_eight_who_send_one_entry_with_one_key_get_one_entry_and_one_answer(shop: User) -> None:
    stock(shop, "HALF", 500)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    token = RequestToken(user_id=shop.pk, key="the same", fingerprint="f")

    def enter() -> object:
        asked = record.answering(token, lambda row: {"entry": row.code})
        return asked(draft=drafted(batch, 10), stamp=stamp_at(shop))

    answers = at_once(*[enter] * 8)
    assert answers == [Answer(201, {"entry": Entry.objects.get().code})] * 8
    assert RequestKey.objects.get().status == 201


def test_of_eight_who_want_the_last_hundred_halves_two_get_them(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 1_000_000)
    batches = [running(shop, "BODY") for _ in range(8)]

    told = codes(at_once(*[entering(batch, 25, by=shop) for batch in batches]))
    assert told[:2] == ["done", "done"]
    assert set(told[2:]) <= {"lot_short", "material_short"}
    halves.refresh_from_db()
    assert (halves.on_hand_base, Entry.objects.count()) == (0, 2)
    assert differences() == []


def test_a_hold_among_entries_leaves_nothing_made_of_the_lot_free(shop: User) -> None:
    stock(shop, "HALF", 5_000)
    adhesive = stock(shop, "ADH-A", 1_000_000)
    batches = [running(shop, "BODY") for _ in range(7)]
    entries = [entering(batch, 10, by=shop) for batch in batches]

    def hold() -> object:
        return hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop))

    told = codes(at_once(*entries[:3], hold, *entries[3:]))
    assert set(told) <= {"done", "lot_held", "material_short"}
    made = Lot.objects.filter(item__code="BODY", on_hand_base__gt=0)
    assert set(made.values_list("disposition", flat=True)) <= {"held"}
    assert made.count() == Entry.objects.count()
    assert differences() == []


def test_an_entry_is_reversed_once(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    row = record(draft=drafted(batch, 10), stamp=stamp_at(shop))

    def undo() -> object:
        return reverse(entry_code=row.code, stamp=stamp_at(shop))

    assert codes(at_once(*[undo] * 4)) == ["done", *["not_reversible"] * 3]
    halves.refresh_from_db()
    assert halves.on_hand_base == 100
    assert Movement.objects.filter(lot=halves).count() == 3
