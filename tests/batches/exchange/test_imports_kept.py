"""What is kept of an import itself, and that nothing comes in twice."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from batches.exchange.errors import ImportRefusedError
from batches.exchange.models import Import, ImportedSheet, SheetHeading
from batches.exchange.operations.headings import forget_heading, say_heading
from batches.exchange.operations.importing import import_sheets
from batches.exchange.rules.writing import AS_OURS, Writing, headings_said
from batches.exchange.selectors.checking import checked_sheets
from batches.runs.models import Batch
from inventory.catalog.models import Colorway
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import Change, User
from tests.batches.exchange.conftest import Imports
from tests.batches.exchange.small import CLOCK, SMALL, changed, checked, problems_in

pytestmark = pytest.mark.django_db

TWO = "code;name\nGRN;Green\nBLK;Black\n"


def number() -> int:
    """That of the only import."""
    return Import.objects.get().pk


def refused_by(imports: Imports, sheets: dict[str, str]) -> list[str]:
    with pytest.raises(ImportRefusedError) as refused:
        imports(sheets)
    return refused.value.lines


def import_as(owner: User, text: str, writing: Writing = AS_OURS) -> None:
    sheets = checked_sheets({"colorways.csv": text.encode()}, CLOCK, writing)
    import_sheets(sheets=sheets, by=owner, now=CLOCK.now, on_rows=lambda _: None)


def headings_kept() -> set[tuple[str, str, str]]:
    return set(SheetHeading.objects.values_list("sheet", "heading", "column"))


def test_an_import_is_kept_with_where_its_rows_came_from(imports: Imports, owner: User) -> None:
    imports({"colorways.csv": TWO})
    kept = Import.objects.get()
    (sheet,) = kept.sheets.all()
    assert (kept.by, kept.at) == (owner, CLOCK.now)
    assert (sheet.sheet, sheet.file, sheet.rows) == ("colorways", "colorways.csv", 2)
    assert (sheet.size_bytes, sheet.how) == (30, "UTF-8, parted by semicolons")
    # By another program: printf 'code;name\nGRN;Green\nBLK;Black\n' | sha256sum (GNU coreutils)
    assert sheet.sha256 == "b65b8eede5cc44c6b59f940422903f873a1f07d8f1911bb42b5282db65c798c4"


def test_an_import_that_is_refused_is_not_kept(imports: Imports) -> None:
    refused_by(imports, changed("opening_lots.csv", "ADH-B,500,g", "ADH-B,14,g"))
    assert (Import.objects.count(), ImportedSheet.objects.count()) == (0, 0)


def test_the_same_sheets_are_refused_the_second_time(imports: Imports, small_shop: None) -> None:
    problems = refused_by(imports, dict(SMALL))
    assert len(problems) == len(SMALL)
    assert problems[0] == (
        f"people.csv: This file was imported on 2026-04-01 13:00 by owner, import {number()}. An "
        "import only adds, so nothing in it is new. Leave it out."
    )
    assert Batch.objects.count() == 4


def test_the_same_rows_written_otherwise_are_refused_the_second_time(imports: Imports) -> None:
    imports({"colorways.csv": TWO})
    again = "name,code\r\nGreen,GRN\r\nBlack,BLK\r\n"
    (problem,) = refused_by(imports, {"colorways.csv": again})
    assert problem == (
        "colorways.csv: The same rows, as colorways.csv, were imported on 2026-04-01 13:00 by "
        f"owner, import {number()}. An import only adds, so nothing in it is new. Leave it out."
    )


def test_a_header_alone_may_come_as_often_as_it_likes(imports: Imports) -> None:
    imports({"colorways.csv": "code,name\n"})
    imports({"colorways.csv": "code,name\n"})
    assert Import.objects.count() == 2


def test_two_who_checked_the_same_before_either_posted_are_told(owner: User) -> None:
    first, second = checked(SMALL), checked(SMALL)
    import_sheets(sheets=first, by=owner, now=CLOCK.now, on_rows=lambda _: None)
    with pytest.raises(ImportRefusedError) as refused:
        import_sheets(sheets=second, by=owner, now=CLOCK.now, on_rows=lambda _: None)
    assert "This file was imported on" in refused.value.lines[0]


def test_the_database_itself_takes_no_rows_twice(imports: Imports) -> None:
    imports({"colorways.csv": TWO})
    again = ImportedSheet.objects.get()
    again.pk, again._state.adding = None, True
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save()


def test_what_a_heading_stands_for_is_kept_for_the_next_time(owner: User) -> None:
    said = Writing(headings=headings_said(["Shade=name", "Notes="]))
    import_as(owner, "code,Shade,Notes\nGRN,Green,x\n", said)
    assert headings_kept() == {("colorways", "shade", "name"), ("colorways", "notes", "")}

    import_as(owner, "code,Shade,Notes\nBLK,Black,y\n")
    assert set(Colorway.objects.values_list("name", flat=True)) == {"Green", "Black"}
    assert Change.objects.filter(table="batches_sheetheading").count() == 2


def test_what_a_heading_stands_for_is_not_kept_of_an_import_that_is_refused(owner: User) -> None:
    said = Writing(headings=headings_said(["Shade=name"]))
    problems_in({"colorways.csv": b"code,Shade\nG N,Green\n"}, said)
    assert headings_kept() == set()


def test_a_heading_of_ours_that_stands_for_another_column_is_said_each_time(owner: User) -> None:
    said = Writing(headings=headings_said(["colorways:code=", "colorways:Shade=code"]))
    import_as(owner, "code,Shade,name\nnot ours,GRN,Green\n", said)
    assert headings_kept() == {("colorways", "shade", "code")}
    with pytest.raises(InvalidInputError, match="code is a column of colorways itself"):
        say_heading(sheet="colorways", heading="Code", column="", by=owner, at=CLOCK.now)


def test_a_heading_may_be_said_to_stand_for_another_column_and_for_none_again(
    owner: User,
) -> None:
    for column in ("name", "code"):
        say_heading(sheet="colorways", heading="Shade", column=column, by=owner, at=CLOCK.now)
    assert headings_kept() == {("colorways", "shade", "code")}
    forget_heading(sheet="colorways", heading="Shade", by=owner, at=CLOCK.now)
    assert headings_kept() == set()
    changes = Change.objects.filter(table="batches_sheetheading").order_by("id")
    assert [(each.row_code, each.after["column"]) for each in changes] == [
        ("colorways:shade", "name"),
        ("colorways:shade", "code"),
        ("colorways:shade", None),
    ]


def test_a_heading_that_stands_for_nothing_is_not_forgotten(owner: User) -> None:
    with pytest.raises(NotFoundError):
        forget_heading(sheet="colorways", heading="Shade", by=owner, at=CLOCK.now)
