"""`manage.py import`, as it is typed."""

from __future__ import annotations

from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from batches.runs.models import Batch
from inventory.catalog.models import Item
from inventory.stock.models import Posting
from shopfloor.models import User
from tests.batches.exchange.small import SMALL, changed, write

pytestmark = pytest.mark.django_db


class Terminal(StringIO):
    """What a person would see."""

    def isatty(self) -> bool:
        """It is one."""
        return True


def printed(*command: Any, **options: Any) -> str:
    out = StringIO()
    call_command(*command, stdout=out, **options)
    return out.getvalue()


def refusal(*command: Any, **options: Any) -> str:
    with pytest.raises(CommandError) as refused:
        printed(*command, **options)
    return str(refused.value)


def test_a_folder_is_imported(owner: User, tmp_path: Path) -> None:
    said = printed("import", str(write(SMALL, tmp_path)))
    assert said == "58 rows of 23 sheets imported.\n"
    assert Batch.objects.count() == 4


def test_a_check_writes_nothing(owner: User, tmp_path: Path) -> None:
    said = printed("import", write(SMALL, tmp_path), "--check")
    assert said.startswith("58 rows of 23 sheets: nothing wrong was found")
    assert (Item.objects.count(), User.objects.count()) == (0, 1)


def test_problems_are_told_one_a_line_and_nothing_is_written(owner: User, tmp_path: Path) -> None:
    folder = write(changed("runs.csv", "20; second:3", "20; worst:3"), tmp_path)
    assert refusal("import", folder).splitlines() == [
        "runs.csv row 6, good “20; worst:3”: A grade is one of: first, second, sample.",
        "Nothing was imported: 1 problem.",
    ]
    assert Item.objects.count() == 0


def test_other_files_in_the_folder_are_no_matter(owner: User, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("none of it", encoding="utf-8")
    (tmp_path / "PLACE.CSV").write_text("code,name,kind\n", encoding="utf-8")
    assert refusal("import", write({}, tmp_path)).startswith(
        "PLACE.CSV: There is no such sheet. Did you mean places.csv?"
    )


NOBODY = "Nobody who may sign in is named nobody. Name somebody with --by who imports: owner, lead."


@pytest.mark.parametrize(
    ("username", "said"),
    [
        ("nobody", NOBODY),
        ("bench", "bench is bench. Who imports is one of: owner, lead."),
    ],
)
def test_a_lead_or_an_owner_imports(bench: User, tmp_path: Path, username: str, said: str) -> None:
    assert refusal("import", tmp_path, "--by", username) == said


def test_who_imports_can_be_named(lead: User, tmp_path: Path) -> None:
    printed("import", write(SMALL, tmp_path), "--by", "lead")
    assert set(Posting.objects.values_list("by__username", flat=True)) == {"lead"}


def test_a_shop_without_people_says_so(db: None, tmp_path: Path) -> None:
    assert refusal("import", tmp_path).startswith("There is no owner yet.")


def test_a_folder_that_is_not_there_or_empty_is_said(owner: User, tmp_path: Path) -> None:
    assert refusal("import", tmp_path / "no") == f"There is no folder {tmp_path / 'no'}."
    assert refusal("import", tmp_path) == f"There is no .csv or .xlsx file in {tmp_path}."


def test_how_a_sheet_was_read_is_told_where_it_is_not_written_as_ours(
    owner: User, tmp_path: Path
) -> None:
    (tmp_path / "colorways.csv").write_bytes("code;name\nGRN;Grün\n".encode("cp1252"))
    (tmp_path / "places.csv").write_bytes(b"code,name,kind\nA,A,shelf\n")
    assert printed("import", tmp_path).splitlines() == [
        "colorways.csv: read as Windows-1252 (“Grün”), parted by semicolons.",
        "2 rows of 2 sheets imported.",
    ]


def test_one_file_may_be_given_and_what_it_says_be_told(owner: User, tmp_path: Path) -> None:
    file = tmp_path / "items.csv"
    header = "Part no,name,kind,unit,piece_mass_mg"
    file.write_text(f'{header}\nHOOK,Hook,hook,each,"1,234"\n', encoding="utf-8")
    assert '--heading "items:Part no=COLUMN"' in refusal("import", file)
    assert "--decimals point or --decimals comma" in refusal("import", file)
    printed("import", file, "--decimals", "comma", "--heading", "items:Part no=code")
    assert Item.objects.get(code="HOOK").piece_mass_mg == Decimal("1.234")


def test_a_heading_that_cannot_be_meant_is_refused(owner: User, tmp_path: Path) -> None:
    said = refusal("import", write(SMALL, tmp_path), "--heading", "Part no=nothing")
    assert said == "No sheet has a column nothing."


def test_a_file_that_a_spreadsheet_wrote_in_its_own_way_is_not_passed_over(
    owner: User, tmp_path: Path
) -> None:
    (tmp_path / "items.ods").write_bytes(b"PK\x03\x04 nothing of use")
    (tmp_path / "~$items.xlsx").write_bytes(b"held open")
    assert refusal("import", tmp_path).splitlines()[:-1] == [
        "items.ods: The file is damaged, or was not copied to its end. Save it again."
    ]


def test_a_terminal_is_shown_how_far_it_is(
    owner: User, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    printed("import", write(SMALL, tmp_path))
    assert terminal.getvalue().endswith(f"\r[{'#' * 30}] 58 of 58 rows\n")


def test_a_file_is_not(owner: User, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = StringIO()
    monkeypatch.setattr("sys.stderr", file)
    printed("import", write(SMALL, tmp_path))
    assert file.getvalue() == ""
