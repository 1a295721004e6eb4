"""Causes of what checks found, beside or instead of what was scrapped at the bench."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from batches.quality.errors import CheckElsewhereError, CheckTooSmallError
from batches.quality.models import Check
from batches.quality.operations import check
from batches.quality.steps.checking import CheckDraft, ResultDraft
from batches.runs.operations import add_scrap_reason, reverse
from batches.runs.steps.drafts import GoodTally, ScrapTally
from batches.trace.errors import NothingToTraceError
from batches.trace.selectors import causes
from batches.trace.selectors.causes import Causes
from batches.trace.selectors.results import KindRow
from inventory.stock.models import Lot
from inventory.stock.operations import split_off
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import at_minute, bodies, checked, define, glue, glued, made_by
from tests.kept import Kept

Calling = Callable[[User], floor.Caller]
MARCH: dict[str, Any] = {"first_on": date(2026, 3, 1), "last_on": date(2026, 3, 31)}


def look(defect: str = "LEAK", **given: Any) -> Causes:
    """The answer for March."""
    return causes(defect=defect, **{**MARCH, **given})


def _check_bodies(*, pots: tuple[Lot, Lot], lead: User) -> None:
    fine, bad = pots
    for turn in range(8):
        checked(lead, bodies(lead, fine, 20 + 2 * turn), 6, 0)
        checked(lead, bodies(lead, bad, 21 + 2 * turn), 6, 2)


CHECKED = Kept(_check_bodies)


@pytest.fixture
def bad_pot(two_pots: tuple[Lot, Lot], lead: User) -> Lot:
    """Nothing is scrapped; of six tested of every lot, two of the second pot's leak."""
    CHECKED(pots=two_pots, lead=lead)
    return two_pots[1]


def test_the_bad_pot_is_named_by_checks_alone(bad_pot: Lot) -> None:
    answer = look()
    [cause] = answer.causes
    assert cause.exposure.name == bad_pot.code
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (16, 48)
    assert (cause.exposure.failed_without, cause.exposure.tested_without) == (0, 48)
    # Nothing was scrapped for it: at the bench nobody sees a leak, so its pieces do not count.
    assert answer.tests == [KindRow("checks", "DUNK", 96, 16)]


def test_pieces_that_no_check_tested_are_not_taken_for_good_ones(bad_pot: Lot, lead: User) -> None:
    for turn in range(4):
        bodies(lead, bad_pot, 36 + turn)
    assert (look().tested, look().entries) == (96, 16)


def test_what_the_bench_scrapped_counts_beside_what_checks_found(bad_pot: Lot, lead: User) -> None:
    bodies(lead, bad_pot, 40, scrapped=3)
    answer = look()
    assert answer.tests == [
        KindRow("scrap", "", 17 * 20 + 3, 3),
        KindRow("checks", "DUNK", 96, 16),
    ]
    assert (answer.tested, answer.failed) == (439, 19)
    assert "Pieces were tested by the bench and check DUNK." in answer.words
    [cause] = answer.causes
    assert cause.exposure.name == bad_pot.code


def test_one_source_may_be_asked_for(bad_pot: Lot, lead: User) -> None:
    bodies(lead, bad_pot, 40, scrapped=3)
    assert [row.source for row in look(source="scrap").tests] == ["scrap"]
    assert (look(source="scrap").tested, look(source="scrap").failed) == (343, 3)
    assert (look(source="checks").tested, look(source="checks").failed) == (96, 16)


def test_a_lot_that_was_checked_and_others_not_is_not_the_cause_of_that(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    """Checks fail half of what they test, the bench a tenth; the pots are alike in both.

    Only of the second pot's pieces were many checked: added up, they would fail four times as
    often as the first one's.
    """
    fine, much_checked = two_pots
    for turn in range(8):
        checked(lead, bodies(lead, fine, 20 + 2 * turn, scrapped=2), 2, 1)
        checked(lead, bodies(lead, much_checked, 21 + 2 * turn, scrapped=2), 20, 10)
    answer = look()
    assert answer.causes == []
    [row] = [row for row in answer.exposures if row.name == much_checked.code]
    assert (row.failed_with, row.tested_with) == (8 * 12, 8 * 42)
    assert (row.failed_without, row.tested_without) == (8 * 3, 8 * 24)
    assert row.ratio == pytest.approx(1.0)
    assert row.p > 0.4


def test_a_check_that_was_replaced_does_not_count(bad_pot: Lot, lead: User) -> None:
    wrong = Check.objects.filter(failed=2).order_by("pk")[0]
    assert wrong.lot is not None
    checked(lead, wrong.lot, 6, 0, replaces=wrong.code)
    assert (look().tested, look().failed) == (96, 14)


def test_a_check_of_an_entry_that_was_reversed_does_not_count(bad_pot: Lot, lead: User) -> None:
    define(lead, "LOOK", accept_pieces=0)
    recorded = glued(lead, bad_pot, 40, good=[GoodTally(20)])
    checked(lead, made_by(recorded), 6, 0, code="LOOK")
    checked(lead, made_by(recorded), 5, 0)
    assert look().tested == 101
    reverse(entry_code=recorded.code, stamp=at_minute(lead, 61))
    assert look().tested == 96


def test_a_part_split_off_is_checked_for_the_entry_that_made_it(bad_pot: Lot, lead: User) -> None:
    lot = bodies(lead, bad_pot, 40)
    part = split_off(lot_code=lot.code, qty_base=5, stamp=at_minute(lead, 50))
    checked(lead, part, 5, 5)
    answer = look()
    assert (answer.tested, answer.failed, answer.entries) == (101, 21, 17)


def test_pieces_tested_anew_by_the_same_check_count_once(bad_pot: Lot, lead: User) -> None:
    lot = bodies(lead, bad_pot, 40)
    checked(lead, lot, 6, 1)
    checked(lead, lot, 14, 2)
    assert (look().tested, look().failed) == (116, 19)  # each of the twenty
    checked(lead, lot, 20, 4)
    assert (look().tested, look().failed) == (116, 20)  # all anew, so the largest stands alone


def check_batch(lead: User, code: str) -> None:
    """One of nine of all that the batch has made fails."""
    results = [ResultDraft(tested=9, failed=1)]
    draft = CheckDraft(definition_code=code, batch_code="GLUING-1", results=results)
    check(draft=draft, stamp=at_minute(lead, 61))


def test_a_check_of_a_batch_of_several_entries_is_of_all_of_them_by_share(
    bad_pot: Lot, lead: User
) -> None:
    bodies(lead, bad_pot, 40)
    define(lead, "LOOK", fixed_pieces=9, accept_pieces=8)
    check_batch(lead, "LOOK")
    answer = look()
    assert (answer.tested, answer.failed, answer.entries, answer.untold) == (105, 17, 17, 0)
    [row] = [row for row in answer.exposures if row.name == bad_pot.code]
    assert (row.tested_with, row.failed_with) == (48 + 9, 16 + 1)  # 180 of its 340 pieces


def test_a_check_of_a_batch_beside_the_same_of_its_lots_tells_of_none_and_says_so(
    bad_pot: Lot, lead: User
) -> None:
    check_batch(lead, "DUNK")
    answer = look()
    assert (answer.tested, answer.untold) == (96, 9)


def test_a_check_of_a_batch_whose_entries_changed_since_tells_of_none(
    bad_pot: Lot, lead: User
) -> None:
    define(lead, "LOOK", fixed_pieces=9, accept_pieces=8)
    recorded = glued(lead, bad_pot, 40, good=[GoodTally(20)])
    check_batch(lead, "LOOK")
    assert look().untold == 0
    reverse(entry_code=recorded.code, stamp=at_minute(lead, 62))
    assert look().untold == 9


def thickness(lead: User, lot: Lot, *seconds: str) -> Check:
    """A check of how thick adhesive is, by how long it runs from a cup."""
    limits = {"unit": "s", "lower": Decimal(10), "upper": Decimal(20), "fixed_pieces": 2}
    define(lead, "THICK", stage="MIXING", kind="measured", defect="", **limits)
    results = [ResultDraft(value=Decimal(each)) for each in seconds]
    draft = CheckDraft(definition_code="THICK", lot_code=lot.code, results=results)
    return check(draft=draft, stamp=at_minute(lead, 60))


def test_a_mixture_that_fails_holds_what_was_glued_with_it(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    fine, bad = two_pots
    body, other = bodies(lead, bad, 20), bodies(lead, fine, 21)
    found = thickness(lead, bad, "15", "25.5")
    assert (found.is_passed, found.failed, found.lot_pieces) == (False, 1, 20_000)
    lots = [bad, body, fine, other]
    for lot in lots:
        lot.refresh_from_db()
    assert [lot.disposition for lot in lots] == ["held", "held", "released", "released"]


def test_a_mixture_needs_as_many_samples_as_its_check_says(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    with pytest.raises(CheckTooSmallError):
        thickness(lead, two_pots[0], "15")
    assert not Check.objects.exists()


def test_of_a_mixture_nothing_is_counted(two_pots: tuple[Lot, Lot], lead: User) -> None:
    define(lead, "CLEAR", stage="MIXING", defect="")
    with pytest.raises(CheckElsewhereError) as refused:
        checked(lead, two_pots[0], 1, 0, code="CLEAR")
    assert refused.value.facts["kind"] == "pass_fail"


def test_flaws_are_not_failing_pieces(bad_pot: Lot, lead: User) -> None:
    define(lead, "LOOK", kind="flaws")
    checked(lead, bodies(lead, bad_pot, 40), 5, 9, code="LOOK")
    assert (look().tested, look().failed) == (96, 16)


def test_a_bad_station_is_found_by_checks(two_pots: tuple[Lot, Lot], lead: User) -> None:
    for turn in range(12):
        lot = bodies(lead, two_pots[0], 20 + turn)
        results = [
            ResultDraft(tested=4, failed=2 if station == 3 else 0, equipment_code=f"W1-{station}")
            for station in (1, 2, 3, 4)
        ]
        draft = CheckDraft(definition_code="DUNK", lot_code=lot.code, results=results)
        check(draft=draft, stamp=at_minute(lead, 60))
    [cause] = look().causes
    assert (cause.exposure.kind, cause.exposure.name) == ("station", "W1-3")
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (24, 48)


def test_a_defect_that_only_checks_find_has_the_stage_of_its_check(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    add_scrap_reason(code="WEAK", name="Weak seam", by=lead, at=floor.NOON)
    define(lead, "PULL", defect="WEAK")
    for turn in range(2):
        checked(lead, bodies(lead, two_pots[turn], 20 + turn), 6, turn, code="PULL")
    assert (look("WEAK").stage, look("WEAK").tested, look("WEAK").failed) == ("GLUING", 12, 1)


def test_no_failure_by_any_test_leaves_all_of_them_in(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    checked(lead, bodies(lead, two_pots[0], 20), 6, 0)
    add_scrap_reason(code="SEAM", name="Open", stage_code="GLUING", by=lead, at=floor.NOON)
    assert look("SEAM", stage="GLUING").words == "None of 20 pieces failed."


def test_where_no_check_was_made_checks_alone_find_nothing(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    glue(lead, two_pots[0], 20, good=[GoodTally(18)], scrap=[ScrapTally(1, "LEAK")])
    with pytest.raises(NothingToTraceError):
        look(source="checks")


def test_the_door_tells_the_kinds_of_test(bad_pot: Lot, viewer: User, calling: Calling) -> None:
    query = {"defect": "LEAK", "last_on": "2026-03-31", "source": "checks"}
    body = calling(viewer).get("trace/causes/", **query).json()
    assert body["tests"] == [{"source": "checks", "definition": "DUNK", "tested": 96, "failed": 16}]
    assert calling(viewer).get("trace/causes/", **{**query, "source": "guess"}).status_code == 422
