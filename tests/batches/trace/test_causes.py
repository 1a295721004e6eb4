"""What the failures of a time have in common, asked of a shop whose bad lot is known."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.runs.operations import add_scrap_reason, reverse
from batches.runs.steps.drafts import GoodTally, ScrapTally
from batches.trace.errors import NothingToTraceError, StageNeededError
from batches.trace.selectors import causes
from batches.trace.selectors.causes import Causes
from inventory.catalog.operations import create_equipment
from inventory.stock.models import Lot
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import at_minute, entry, glue, pot, running
from tests.kept import Kept

Calling = Callable[[User], floor.Caller]
MARCH: dict[str, Any] = {"first_on": date(2026, 3, 1), "last_on": date(2026, 3, 31)}


def look(defect: str = "LEAK", **given: Any) -> Causes:
    """The answer for March, or other days."""
    return causes(defect=defect, **{**MARCH, **given})


def _make_pots(*, lead: User) -> None:
    fine, bad = pot(lead, 1), pot(lead, 2)
    for turn in range(8):
        glue(lead, fine, 20 + 2 * turn, good=[GoodTally(18)])
        glue(lead, bad, 21 + 2 * turn, good=[GoodTally(12)], scrap=[ScrapTally(6, "LEAK")])


POTS = Kept(_make_pots)


@pytest.fixture
def bad_pot(wheel: None, lead: User) -> Lot:
    """Two pots by turns; of the second one's pieces a third leak, of the first one's none."""
    POTS(lead=lead)
    return Lot.objects.filter(item__code="GLUE").latest("pk")


def test_the_bad_pot_is_named_with_its_counts(bad_pot: Lot) -> None:
    answer = look()
    [cause] = answer.causes
    assert (cause.exposure.kind, cause.exposure.name) == ("lot", bad_pot.code)
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (48, 144)
    assert (cause.exposure.failed_without, cause.exposure.tested_without) == (0, 144)
    assert cause.chance < 0.01
    assert answer.words.startswith(
        f"With lot {bad_pot.code}, 33.3% of the pieces failed (48 of 144); "
        "without it, 0.0% (0 of 144)"
    )
    assert (answer.entries, answer.tested, answer.failed) == (16, 288, 48)


def test_a_lot_that_every_entry_took_is_nobodys_cause(bad_pot: Lot, materials: Lot) -> None:
    names = {name for row in look().exposures for name in (row.name, *row.together)}
    assert bad_pot.code in names
    assert materials.code not in names


def test_what_was_reversed_never_happened(bad_pot: Lot, lead: User) -> None:
    code = glue(lead, bad_pot, 40, good=[], scrap=[ScrapTally(9, "LEAK")])
    assert look().failed == 57
    reverse(entry_code=code, stamp=at_minute(lead, 41))
    assert look().failed == 48


def test_pieces_scrapped_for_another_reason_were_not_tested(bad_pot: Lot, lead: User) -> None:
    glue(lead, bad_pot, 40, good=[GoodTally(2)], scrap=[ScrapTally(5, "OFFSET")])
    assert (look().tested, look().failed) == (290, 48)
    assert (look("OFFSET").tested, look("OFFSET").failed) == (247, 5)


@pytest.mark.usefixtures("wheel")
def test_two_that_always_went_together_are_named_together(lead: User) -> None:
    create_equipment(code="W2", name="Wheel 2", kind="wheel", by=lead, at=floor.NOON)
    fine, bad = pot(lead, 1), pot(lead, 2)
    for turn in range(8):
        glue(lead, fine, 20 + 2 * turn, good=[GoodTally(18)], equipment=["W1"])
        glue(
            lead, bad, 21 + 2 * turn,
            good=[GoodTally(12)], scrap=[ScrapTally(6, "LEAK")], equipment=["W2"],
        )  # fmt: skip
    [cause] = look().causes
    named = {f"{cause.exposure.kind} {cause.exposure.name}", *cause.exposure.together}
    assert named == {f"lot {bad.code}", "wheel W2"}
    assert "the results cannot say which of them" in cause.words


@pytest.mark.usefixtures("wheel")
def test_nearly_always_together_is_a_tie_with_a_test_that_would_tell(lead: User) -> None:
    fine, bad = pot(lead, 1), pot(lead, 2)
    for turn in range(8):
        glue(lead, fine, 20 + 2 * turn, good=[GoodTally(18)])
        glue(
            lead, bad, 21 + 2 * turn,
            good=[GoodTally(12)], scrap=[ScrapTally(6, "LEAK")], equipment=["W1"],
        )  # fmt: skip
    glue(lead, bad, 38, good=[GoodTally(1)])
    [cause] = look().causes
    tied = [cause.exposure.name, *(row.name for row in cause.cannot_tell_from)]
    assert sorted(tied) == sorted([bad.code, "W1"])
    [test] = cause.tests
    assert "make 8 pieces with the first and without the second" in test


@pytest.mark.usefixtures("wheel")
def test_a_bad_station_is_found_where_good_pieces_are_not_told_by_station(lead: User) -> None:
    fine = pot(lead, 1)
    for turn in range(12):
        glue(
            lead, fine, 20 + turn,
            good=[GoodTally(22, equipment_code="W1")],
            scrap=[ScrapTally(2, "LEAK", equipment_code="W1-3")], equipment=["W1"],
        )  # fmt: skip
    answer = look()
    [cause] = answer.causes
    assert (cause.exposure.kind, cause.exposure.name) == ("station", "W1-3")
    assert answer.is_spread
    # 22 good ones on four stations: 6, 6, 5, 5.
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (24, 84)


@pytest.mark.usefixtures("wheel")
def test_a_station_whose_pieces_all_failed_is_still_told_from_the_others(lead: User) -> None:
    """It has no good pieces to name it, where the others have."""
    fine = pot(lead, 1)
    for turn in range(12):
        glue(
            lead, fine, 20 + turn,
            good=[GoodTally(6, equipment_code=f"W1-{station}") for station in (1, 2, 4)],
            scrap=[ScrapTally(6, "LEAK", equipment_code="W1-3")],
        )  # fmt: skip
    answer = look()
    [cause] = answer.causes
    assert (cause.exposure.kind, cause.exposure.name) == ("station", "W1-3")
    assert not answer.is_spread
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (72, 72)


@pytest.mark.usefixtures("wheel")
def test_failures_told_by_the_wheel_alone_do_not_make_it_the_cause(lead: User) -> None:
    """Its good pieces were glued there as well: only nobody wrote it down."""
    fine = pot(lead, 1)
    for turn in range(12):
        glue(
            lead, fine, 20 + turn,
            good=[GoodTally(16)], scrap=[ScrapTally(2, "LEAK", equipment_code="W1")],
        )  # fmt: skip
    answer = look()
    assert answer.causes == []
    assert not [row for row in answer.exposures if row.name == "W1"]
    assert (answer.tested, answer.failed) == (216, 24)


@pytest.mark.usefixtures("wheel")
def test_stations_of_two_wheels_beside_untold_good_ones_are_not_guessed_at(lead: User) -> None:
    create_equipment(
        code="W2", name="Wheel 2", kind="wheel", part_kind="station", part_count=2,
        by=lead, at=floor.NOON,
    )  # fmt: skip
    fine = pot(lead, 1)
    for turn in range(6):
        scrap = [
            ScrapTally(1, "LEAK", equipment_code="W1-1"),
            ScrapTally(1, "LEAK", equipment_code="W2-1"),
        ]
        glue(lead, fine, 20 + turn, good=[GoodTally(16)], scrap=scrap)
    answer = look()
    assert (answer.tested, answer.failed, answer.is_spread) == (108, 12, False)
    assert not [row for row in answer.exposures if row.kind == "station"]


@pytest.mark.usefixtures("wheel")
def test_one_failure_proves_nothing(lead: User) -> None:
    fine, other = pot(lead, 1), pot(lead, 2)
    for turn in range(4):
        glue(lead, fine, 20 + 2 * turn, good=[GoodTally(18)])
        glue(lead, other, 21 + 2 * turn, good=[GoodTally(18)])
    glue(lead, other, 40, good=[GoodTally(17)], scrap=[ScrapTally(1, "LEAK")])
    answer = look()
    assert answer.causes == []
    assert other.code in [row.name for row in answer.nearest]
    assert answer.words.startswith("1 of 162 pieces failed, and nothing that they went through")


@pytest.mark.usefixtures("wheel")
def test_no_failure_is_said_as_such(lead: User) -> None:
    add_scrap_reason(code="SEAM", name="Open seam", stage_code="GLUING", by=lead, at=floor.NOON)
    glue(lead, pot(lead, 1), 20, good=[GoodTally(18)])
    assert look("SEAM").words == "None of 18 pieces failed."


def test_days_without_results_are_refused(bad_pot: Lot) -> None:
    with pytest.raises(NothingToTraceError):
        look(first_on=date(2026, 4, 1), last_on=date(2026, 4, 30))


@pytest.mark.usefixtures("wheel")
def test_a_reason_of_several_stages_is_looked_at_one_stage_at_a_time(lead: User) -> None:
    running("GLUE", by=lead, code="MIX-2", minute=2)
    glue(lead, pot(lead, 1), 20, good=[GoodTally(18)], scrap=[ScrapTally(2, "LEAK")])
    entry("MIX-2", 1_000, by=lead, minute=30, scrap=5)
    with pytest.raises(StageNeededError) as refused:
        look()
    assert refused.value.facts["stages"] == ["MIXING", "GLUING"]
    assert (look(stage="GLUING").tested, look(stage="GLUING").stage) == (20, "GLUING")
    with pytest.raises(StageNeededError):
        look(stage="PAINTING")


def test_a_reason_of_one_stage_refuses_another(bad_pot: Lot, lead: User) -> None:
    add_scrap_reason(code="SEAM", name="Open", stage_code="GLUING", by=lead, at=floor.NOON)
    with pytest.raises(StageNeededError):
        look("SEAM", stage="PAINTING")
    assert look("SEAM", stage="GLUING").tested == 240


def test_an_unknown_defect_is_refused(bad_pot: Lot) -> None:
    with pytest.raises(NotFoundError):
        look("NOPE")


def test_the_number_of_statements_does_not_grow(
    bad_pot: Lot, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(11):
        look()


def test_the_door_answers_any_role(bad_pot: Lot, viewer: User, calling: Calling) -> None:
    answer = calling(viewer).get("trace/causes/", defect="leak", last_on="2026-03-31")
    assert answer.status_code == 200
    body = answer.json()
    assert (body["first_on"], body["last_on"]) == ("2025-03-31", "2026-03-31")
    assert body["causes"][0]["exposure"]["name"] == bad_pot.code


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({}, 422),
        ({"defect": "LEAK", "first_on": "2026-03-02", "last_on": "2026-03-01"}, 422),
        ({"defect": "LEAK", "first_on": "soon"}, 422),
        ({"defect": "NOPE"}, 404),
        ({"defect": "LEAK", "last_on": "2019-03-01"}, 409),
        ({"defect": "LEAK\x00"}, 422),
        ({"defect": "LEAK", "first_on": "0001-01-01"}, 422),
        ({"defect": "LEAK", "last_on": "9999-12-31"}, 422),
    ],
)
def test_bad_questions_are_refused(
    bad_pot: Lot, viewer: User, calling: Calling, query: dict[str, str], status: int
) -> None:
    assert calling(viewer).get("trace/causes/", **query).status_code == status
