"""A folder that is not what was exported stays outside, and is told why; nothing is written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import LazySettings
from django.core.management import CommandError, call_command

from batches.exchange.rules.moving_about import ABOUT_FILE
from batches.exchange.selectors.moving import moving_tables
from shopfloor.models import User
from tests.batches import floor
from tests.batches.exchange.moving import emptied, exported, taken_in

AGAIN = "Export the shop again, and change nothing in the folder."
STRANGE_ABOUT = "about.json: It is not as an export writes it. Export the shop again."


@pytest.fixture
def uploads(tmp_path: Path, settings: LazySettings) -> Path:
    """One upload; it is gone again once the shop is exported."""
    settings.MEDIA_ROOT = tmp_path / "uploads"
    (tmp_path / "uploads" / "sheets").mkdir(parents=True)
    (tmp_path / "uploads" / "sheets" / "a.txt").write_bytes(b"as it was\r\n")
    return tmp_path / "uploads"


@pytest.fixture
def empty(db: None, uploads: Path, tmp_path: Path) -> Path:
    """A shop with nothing but an upload, exported."""
    exported(tmp_path / "out")
    (uploads / "sheets" / "a.txt").unlink()
    return tmp_path / "out"


@pytest.fixture
def hooks(transactional_db: None, tmp_path: Path) -> Path:
    """A shop with a lot of hooks, exported; what stands here is empty again."""
    emptied()
    owner = floor.enter_owner()
    floor.enter_places(by=owner)
    floor.enter_item("HOOK", by=owner)
    floor.take_in("HOOK", 1000, worth="20", by=owner)
    exported(tmp_path / "out")
    emptied()
    return tmp_path / "out"


def refusal(folder: Path) -> str:
    """Why the folder is refused; nothing may stand afterwards."""
    with pytest.raises(CommandError) as refused:
        taken_in(folder)
    tables = moving_tables(has_sign_ins=True)
    assert [table.name for table in tables if table.model._default_manager.exists()] == []
    return str(refused.value).removeprefix("Nothing was imported. ")


def write(file: Path, old: bytes, new: bytes) -> None:
    """Write a piece of a sheet otherwise, and make the folder vouch for it."""
    data = file.read_bytes()
    assert old in data
    file.write_bytes(data.replace(old, new, 1))
    about = file.parent / ABOUT_FILE
    facts = json.loads(about.read_text())
    facts["sheets"][file.name]["sha256"] = hashlib.sha256(file.read_bytes()).hexdigest()
    about.write_text(json.dumps(facts))


def say(folder: Path, **facts: Any) -> None:
    """Make the folder say something else of itself."""
    about = folder / ABOUT_FILE
    about.write_text(json.dumps({**json.loads(about.read_text()), **facts}))


def saying(text: str) -> Callable[[Path], object]:
    return lambda folder: (folder / ABOUT_FILE).write_text(text)


def changed(file: str) -> Callable[[Path], object]:
    return lambda folder: (folder / file).write_bytes(b"id\r\n1\r\n")


def without(file: str) -> Callable[[Path], object]:
    return lambda folder: (folder / file).unlink()


FOLDERS: list[tuple[Callable[[Path], object], str]] = [
    (changed("lot.csv"), f"lot.csv: It is not the file that was exported (SHA-256). {AGAIN}"),
    (without("lot.csv"), f"lot.csv: The file is missing. {AGAIN}"),
    (changed("lots.csv"), "lots.csv: about.json has no such file."),
    (
        changed("uploads/sheets/a.txt"),
        f"uploads/sheets/a.txt: It is not the file that was exported (SHA-256). {AGAIN}",
    ),
    (without("uploads/sheets/a.txt"), f"uploads/sheets/a.txt: The file is missing. {AGAIN}"),
    (changed("uploads/b.txt"), "uploads/b.txt: about.json has no such file."),
    (saying("{"), STRANGE_ABOUT),
    (saying("[]"), STRANGE_ABOUT),
    (saying("{}"), STRANGE_ABOUT),
    (saying('{"format":1,"sheets":{},"uploads":{}}'), STRANGE_ABOUT),
    (lambda folder: say(folder, sheets={"lot.csv": {"rows": "1", "sha256": ""}}), STRANGE_ABOUT),
    (
        lambda folder: say(folder, format=2),
        "about.json: It is of format 2; this program reads format 1. Use a newer program.",
    ),
    (
        lambda folder: say(folder, uploads={"../a.txt": {"rows": 1, "sha256": ""}}),
        f"uploads/../a.txt: The file is missing. {AGAIN}",
    ),
    (
        lambda folder: say(folder, sheets={}),
        f"about.json “access_event.csv”: Not the sheets of this program. {AGAIN}",
    ),
    (lambda folder: say(folder, currency="EUR"), "Its values are in EUR: set SHOP_CURRENCY=EUR."),
    (
        lambda folder: say(folder, time_zone="UTC"),
        "Its days are those of UTC: set SHOP_TIME_ZONE=UTC.",
    ),
]


@pytest.mark.parametrize(("change", "said"), FOLDERS, ids=[said[:60] for _, said in FOLDERS])
def test_a_folder_that_was_changed_or_fits_no_more_is_refused(
    empty: Path, change: Callable[[Path], object], said: str
) -> None:
    change(empty)
    assert refusal(empty) == said


def test_the_folder_comes_in_as_long_as_nothing_is_wrong(empty: Path, uploads: Path) -> None:
    assert taken_in(empty).startswith("0 rows of ")
    assert (uploads / "sheets" / "a.txt").read_bytes() == b"as it was\r\n"


def test_a_link_among_the_uploads_leads_nowhere(empty: Path, uploads: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("of this machine")
    (empty / "uploads" / "b.txt").symlink_to(tmp_path / "secret.txt")
    (empty / "uploads" / "c").symlink_to(tmp_path)
    taken_in(empty)
    assert [path.name for path in sorted(uploads.rglob("*"))] == ["sheets", "a.txt"]


def test_a_shop_of_other_tables_is_refused_and_the_difference_named(empty: Path) -> None:
    here = json.loads((empty / ABOUT_FILE).read_text())["migrations"]
    say(empty, migrations=[*here, "shopfloor.9999_from_tomorrow"])
    assert refusal(empty) == (
        "The tables here are not those of the shop in the folder. Only there:"
        " shopfloor.9999_from_tomorrow. Only here: nothing. Import it with the version of the"
        " program that made it, and bring that up to date afterwards."
    )


def test_a_shop_of_ones_own_does_not_go_where_the_demo_is(
    empty: Path, settings: LazySettings
) -> None:
    settings.SHOP_IS_DEMO = True
    assert "is that of the demo" in refusal(empty)


def test_uploads_that_stand_are_never_written_over(empty: Path, uploads: Path) -> None:
    (uploads / "b.txt").write_bytes(b"of somebody else")
    assert refusal(empty).startswith(f"There are uploads in {uploads} already.")


def test_a_shop_that_stands_is_never_written_over(empty: Path) -> None:
    floor.enter_owner()
    with pytest.raises(CommandError, match="There is something here already: user, change") as no:
        taken_in(empty)
    assert "run `python3 manage.py migrate` and this again" in str(no.value)
    assert User.objects.count() == 1


def test_a_whole_shop_is_not_checked_by_halves(empty: Path) -> None:
    with pytest.raises(CommandError, match="leave --check out"):
        call_command("import", str(empty), "--check", stdout=StringIO())


def test_an_export_goes_into_a_folder_of_its_own(empty: Path) -> None:
    with pytest.raises(CommandError, match=r"is not empty\. Name a new folder\."):
        exported(empty)


def test_an_export_that_cannot_be_written_says_so(db: None, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(CommandError, match="cannot be written"):
        exported(tmp_path / "file" / "out")


def test_what_is_not_utf8_is_named(empty: Path) -> None:
    write(empty / "place.csv", b"id", b"\xe9d")
    assert refusal(empty) == "place.csv: After line 0 comes something that is not UTF-8."


ROWS = [
    ("place.csv", b"BENCH-GLUE", b"SHELF-A", "place.csv row 3: The database does not take it: "),
    (
        "movement.csv", b"1,1,1,1000,20000000", b"1,1,1,0,0",
        "movement.csv row 2: The database does not take it: ",
    ),
    (
        "movement.csv", b"1,1,1,", b"1,1,7,",
        "movement.csv row 2, lot “7”: There is no such row in lot.csv.",
    ),
    (
        "movement.csv", b",1000,", b",1001,",
        "The sheets do not agree with each other. On hand and value of each lot equal the sum of",
    ),
]  # fmt: skip


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("file", "old", "new", "said"), ROWS, ids=[row[-1][:40] for row in ROWS])
def test_rows_that_contradict_the_rules_or_each_other_are_refused(
    hooks: Path, file: str, old: bytes, new: bytes, said: str
) -> None:
    write(hooks / file, old, new)
    assert refusal(hooks).startswith(said)
