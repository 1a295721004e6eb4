"""Sheets, edges, details, comparison and where-used, each in its few statements."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.bills.operations import (
    change_revision,
    create_revision,
    release_bill,
    retire_bill,
)
from batches.bills.selectors.bills import bill_detail, comparison
from batches.bills.selectors.graph import Use, where_used
from batches.bills.selectors.sheets import current_sheets, sheet
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from tests.batches.floor import LATER, draft_bill, enter_item, instead, line


def released(item: str, stage: str, by: User, *lines: object, scrap_ratio: str = "0") -> None:
    """A bill with revision 1 released."""
    draft_bill(item, stage, *lines, by=by, scrap_ratio=scrap_ratio)  # type: ignore[arg-type]
    release_bill(item_code=item, number=1, by=by, at=LATER)


def test_a_sheet_has_all_a_run_needs_in_one_statement(
    released_bills: None, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    revision_id = bill_detail("HALF-L").sheet.revision_id
    with django_assert_num_queries(1):
        found = sheet(revision_id)
    resin, colorant, regrind = found.lines
    assert (found.item.code, found.stage_code, found.state) == ("HALF-L", "MOLDING", "current")
    assert (found.number, found.scrap_ratio) == (1, Decimal("0.02"))
    assert (found.taken, found.by_products) == ((resin, colorant), (regrind,))
    assert (resin.item.code, resin.per_piece_base, resin.per_batch_base) == (
        "RESIN",
        Decimal(4200),
        150_000,
    )
    assert [(one.item.code, one.largest_ratio) for one in resin.alternatives] == [
        ("REGRIND", Decimal("0.2"))
    ]
    assert (regrind.role, regrind.per_piece_base) == ("by_product", Decimal(1100))
    assert resin.need_base(10, is_first_entry=True) == 10 * 4200 + 150_000
    assert resin.need_base(10, is_first_entry=False) == 10 * 4200


def test_a_sheet_without_lines_is_a_sheet(floor_ready: None, lead: User) -> None:
    draft_bill("HALF-L", "MOLDING", by=lead)
    assert bill_detail("HALF-L").sheet.lines == ()


def test_a_sheet_that_there_is_not_is_not_found(db: None) -> None:
    with pytest.raises(NotFoundError):
        sheet(1)


def test_every_current_sheet_comes_in_one_statement(
    released_bills: None, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(1):
        found = current_sheets()
    assert [one.item.code for one in found] == [
        "BODY-70", "GLUE", "HALF-L", "HALF-R",
        "LURE-70-PERCH", "PACKED-70-PERCH", "PAINTED-70-PERCH",
    ]  # fmt: skip


def test_a_bill_shows_its_current_revision_else_the_newest_in_two_statements(
    released_bills: None, lead: User, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    with django_assert_num_queries(2):
        found = bill_detail("half-l")
    assert found.sheet.number == 1
    retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert bill_detail("HALF-L").sheet.number == 2
    assert bill_detail("HALF-L", 1).sheet.number == 1
    with pytest.raises(NotFoundError):
        bill_detail("HALF-L", 3)
    with pytest.raises(NotFoundError):
        bill_detail("RESIN")


def test_two_revisions_are_compared_line_by_line_in_one_statement(
    released_bills: None, lead: User, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    lines = (
        line("RESIN", "4.2 g", per_batch="150 g", alternatives=(instead("REGRIND", "0.25"),)),
        line("HANGER", "1 each"),
        line("REGRIND", "1.1 g", role="by_product"),
    )
    change_revision(item_code="HALF-L", number=2, lines=lines, by=lead, at=LATER)
    with django_assert_num_queries(1):
        found = comparison("HALF-L", a=1, b=2)
    assert [one.item.code for one in found.added] == ["HANGER"]
    assert [one.item.code for one in found.dropped] == ["COLORANT"]
    ((before, after),) = found.changed
    assert before.alternatives[0].largest_ratio == Decimal("0.2")
    assert after.alternatives[0].largest_ratio == Decimal("0.25")


def test_a_revision_does_not_differ_from_itself_and_one_that_is_not_there_is_named(
    released_bills: None,
) -> None:
    same = comparison("HALF-L", a=1, b=1)
    assert (same.added, same.dropped, same.changed) == ((), (), ())
    with pytest.raises(NotFoundError) as missing:
        comparison("HALF-L", a=1, b=7)
    assert missing.value.facts == {"item": "HALF-L", "revisions": [7]}


# --- where used ---------------------------------------------------------------------------------


def by_code(uses: tuple[Use, ...]) -> dict[str, Use]:
    return {use.sheet.item.code: use for use in uses}


@pytest.fixture
def textbook(floor_ready: None, lead: User) -> None:
    """A of 2 B and 1 C; B of 3 D and 1 E; C of 2 D and 4 F; E of 1 F and 1 D."""
    for code in "ABCDEF":
        enter_item(code, by=lead)
    released("E", "GLUING", lead, line("F", "1 each"), line("D", "1 each"))
    released("C", "GLUING", lead, line("D", "2 each"), line("F", "4 each"))
    released("B", "GLUING", lead, line("D", "3 each"), line("E", "1 each"))
    released("A", "GLUING", lead, line("B", "2 each"), line("C", "1 each"))


@pytest.mark.parametrize(
    ("item", "levels", "needs"),
    [
        ("D", {"E": 1, "C": 1, "B": 2, "A": 3}, {"E": 1, "C": 2, "B": 4, "A": 10}),
        ("F", {"E": 1, "C": 1, "B": 2, "A": 3}, {"E": 1, "C": 4, "B": 1, "A": 6}),
        ("E", {"B": 1, "A": 2}, {"B": 1, "A": 2}),
        ("A", {}, {}),
    ],
)
def test_where_an_item_is_used_through_every_level(
    textbook: None, item: str, levels: dict[str, int], needs: dict[str, int]
) -> None:
    # For 10 A the explosion of this structure takes 100 D, 60 F and 20 E: low-level coding as in
    # J. Orlicky, Material Requirements Planning, 1975.
    uses = by_code(where_used(item).uses)
    assert {code: use.level for code, use in uses.items()} == levels
    assert {code: use.need_base for code, use in uses.items()} == needs


def test_a_use_says_whether_it_is_direct_and_through_what(textbook: None) -> None:
    uses = by_code(where_used("D").uses)
    direct = {code: [one.per_piece_base for one in use.direct] for code, use in uses.items()}
    assert direct == {"E": [1], "C": [2], "B": [3], "A": []}
    assert {code: use.through for code, use in uses.items()} == {
        "E": (),
        "C": (),
        "B": ("E",),
        "A": ("B", "C"),
    }


def test_losses_and_scrap_on_the_way_are_in_the_need_and_what_goes_once_a_batch_is_not(
    released_bills: None,
) -> None:
    uses = by_code(where_used("PAINT-BASE").uses)
    # 350 uL stay on the body, as much again is lost; 4 % of the bodies, then 1 % of the lures.
    painted = Fraction(350) / Fraction("0.5") / Fraction("0.96")
    assert uses["PAINTED-70-PERCH"].need_base == painted
    assert uses["LURE-70-PERCH"].need_base == painted / Fraction("0.99")
    assert uses["PACKED-70-PERCH"].need_base == painted / Fraction("0.99")


def test_an_alternative_is_a_use_up_to_its_largest_share(released_bills: None) -> None:
    half = by_code(where_used("REGRIND").uses)["HALF-L"]
    (direct,) = half.direct
    assert (direct.stands_for, direct.largest_ratio) == ("RESIN", Decimal("0.2"))
    assert half.need_base == 0
    assert half.need_base_max == Fraction(4200) / Fraction("0.98") * Fraction("0.2")


def test_the_most_is_what_the_richest_alternatives_give_up_to_the_whole(
    floor_ready: None, lead: User
) -> None:
    enter_item("PLATE-1", by=lead)
    enter_item("PLATE-3", by=lead)
    enter_item("PLATE-5", by=lead)
    released("PLATE-1", "GLUING", lead, line("RING", "1 each"))
    released("PLATE-3", "GLUING", lead, line("RING", "3 each"))
    released("PLATE-5", "GLUING", lead, line("RING", "5 each"))
    others = (instead("PLATE-3", "0.9"), instead("PLATE-5", "0.25"))
    released("BODY-70", "GLUING", lead, line("PLATE-1", "1 each", alternatives=others))
    body = by_code(where_used("RING").uses)["BODY-70"]
    # A quarter takes 5, the other three quarters 3: never more than the whole line.
    assert body.need_base == 1
    assert body.need_base_max == Fraction(5, 4) + Fraction(9, 4)


def test_where_used_takes_two_statements_however_deep_the_bills(
    released_bills: None, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(2):
        assert len(where_used("RESIN").uses) == 6
    with django_assert_num_queries(2):
        assert where_used("PACKED-70-PERCH").uses == ()


def test_a_retired_bill_uses_nothing(released_bills: None, lead: User) -> None:
    retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    retire_bill(item_code="HALF-R", number=1, by=lead, at=LATER)
    assert where_used("RESIN").uses == ()


def test_where_an_unknown_item_is_used_is_not_found(db: None) -> None:
    with pytest.raises(NotFoundError):
        where_used("NONE")
