"""Archives that are cut short, changed or made up: each is refused in words, before any use."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from django.db import connection

from shopfloor.backup.archive import DATABASES, opened_archive
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.fitness import refuse_different, refuse_unfit

DATABASE = DATABASES[connection.vendor]
OTHER_KIND = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]


class Odd(NamedTuple):
    """A backup that is not right, and what is said of it."""

    name: str
    changes: dict[str, Any]
    said: str


def _set(**values: Any) -> Callable[[Any], None]:
    return lambda facts: facts.update(values)


ODD = [
    Odd("database", {"parts": {DATABASE: b"other"}, "is_listed": False}, f"{DATABASE} in this"),
    Odd("unlisted", {"parts": {"uploads/a": b"a"}, "is_listed": False}, "not what its manifest"),
    Odd("missing", {"parts": {DATABASE: None}, "is_listed": False}, "not what its manifest"),
    Odd("no database", {"parts": {DATABASE: None}}, "no database in it"),
    Odd("up", {"parts": {"uploads/../../evil": b"x"}}, "is no name for a file"),
    Odd("root", {"parts": {"/etc/evil": b"x"}}, "is no name for a file"),
    Odd("drive", {"parts": {"uploads/C:evil": b"x"}}, "is no name for a file"),
    Odd("backslash", {"parts": {"uploads/..\\evil": b"x"}}, "is no name for a file"),
    Odd("folder", {"parts": {"uploads/evil/": b""}}, "is no name for a file"),
    Odd("stranger", {"parts": {"settings.py": b"x"}}, "which no backup of a shop holds"),
    Odd("link", {"parts": {"uploads/a": b"/etc"}, "link": "uploads/a"}, "which no backup of a"),
    Odd("format", {"manifest": _set(format=2)}, "is of format 2"),
    Odd("unknown kind", {"manifest": _set(kind="other")}, "manifest.json of this backup cannot"),
    Odd("unknown fact", {"manifest": _set(more=1)}, "manifest.json of this backup cannot"),
    Odd("size", {"manifest": lambda facts: facts["parts"][DATABASE].update(size_bytes="5")},
        "manifest.json of this backup cannot"),
    Odd("rows", {"manifest": lambda facts: facts["state"].update(rows={"a": None})},
        "manifest.json of this backup cannot"),
    Odd("no parts", {"manifest": lambda facts: facts.pop("parts")}, "manifest.json of this"),
    Odd(
        "other kind",
        {
            "manifest": _set(kind=OTHER_KIND),
            "parts": {DATABASE: None, DATABASES[OTHER_KIND]: b"x"},
        },
        "`manage.py export FOLDER` there and `manage.py import FOLDER` here",
    ),
]  # fmt: skip


def used(file: Path) -> None:
    with opened_archive(file) as archive:
        archive.prove()
        refuse_unfit(archive.manifest)


def refusal(file: Path) -> str:
    with pytest.raises(BackupRefusedError) as refused:
        used(file)
    return str(refused.value)


@pytest.mark.django_db
def test_a_backup_written_again_as_it_was_is_taken(backup_with: Callable[..., Path]) -> None:
    used(backup_with(parts={"uploads/a picture.png": b"dots", "uploads/more/b": b""}))


@pytest.mark.django_db
@pytest.mark.parametrize("odd", ODD, ids=lambda odd: odd.name)
def test_an_odd_backup_is_refused_in_words(odd: Odd, backup_with: Callable[..., Path]) -> None:
    assert odd.said in refusal(backup_with(**odd.changes))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_backup_that_was_cut_short_is_refused(
    share: float, good_backup: Path, tmp_path: Path
) -> None:
    short = tmp_path / "short.zip"
    data = good_backup.read_bytes()
    short.write_bytes(data[: int(len(data) * share)])
    assert "only the beginning of one" in refusal(short)


@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 0.8])
def test_a_spoiled_stretch_is_found(share: float, good_backup: Path, tmp_path: Path) -> None:
    data = bytearray(good_backup.read_bytes())
    start = int(len(data) * share)
    data[start : start + 64] = bytes(each ^ 0xFF for each in data[start : start + 64])
    spoiled = tmp_path / "spoiled.zip"
    spoiled.write_bytes(data)
    assert f"{DATABASE} in this backup is not what was put in" in refusal(spoiled)


def test_a_file_that_is_not_there_and_one_that_is_no_backup_are_told_apart(tmp_path: Path) -> None:
    other = tmp_path / "letter.zip"
    other.write_text("Dear customer,", encoding="utf-8")
    assert "cannot be read: No such file" in refusal(tmp_path / "none.zip")
    assert "is not a backup" in refusal(other)


def test_rows_that_did_not_come_out_are_named(good_backup: Path) -> None:
    with opened_archive(good_backup) as archive:
        expected = archive.manifest.state
    fewer = expected._replace(rows={**expected.rows, "inventory_lot": 1})
    with pytest.raises(BackupRefusedError, match="inventory_lot has 1 rows instead of 2"):
        refuse_different(expected=expected, found=fewer)
    with pytest.raises(BackupRefusedError, match="its migrations are others"):
        refuse_different(expected=expected, found=expected._replace(migrations={}))
