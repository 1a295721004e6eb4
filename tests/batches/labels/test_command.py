"""`manage.py labels`: papers into a file, kept like those printed over the API."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from batches.labels.models import PrintedPaper, Printing
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.operations import create_person
from shopfloor.roles import Role
from tests.batches.labels.conftest import MONDAY, words

StockOf = Callable[..., Lot]


@pytest.fixture
def hooks(stock_of: StockOf) -> Lot:
    return stock_of("HOOK", lot_code="H1", kind="hook")


def labels(*args: object) -> str:
    out = StringIO()
    call_command("labels", *map(str, args), stdout=out)
    return out.getvalue()


def test_a_file_is_written_and_the_printing_kept(hooks: Lot, tmp_path: Path) -> None:
    told = labels("lots", "h1", "--file", tmp_path / "one.pdf", "--copies", 3)
    printing = Printing.objects.get()
    assert told == f"{printing.code}: 3 papers on 3 pages in {tmp_path / 'one.pdf'}.\n"
    assert (printing.by.username, printing.copies, printing.stock) == ("olga", 3, "2x1")
    assert "H1" in words((tmp_path / "one.pdf").read_bytes(), 2)
    labels("lots", "H1", "--file", tmp_path / "two.pdf", "--stock", "4x2")
    assert "Reprint 1" in words((tmp_path / "two.pdf").read_bytes())


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["lots", "H1", "NONE"], "No lot has this code: NONE"),
        (["lots", "H1", "--stock", "9x9"], "No stock in use has this name"),
        (["lots", "H1", "--copies", "10001"], "print at most 10,000 copies at a time"),
        (["lots", "H1", "--copies", "0"], "at least one copy"),
        (["lots", "H1", "--start", "2"], "has 1 labels"),
        (
            ["lots", "H1", "--by", "vera"],
            "vera is viewer. Who prints is one of: owner, lead, bench",
        ),
        (["lots", "H1", "--by", "nobody"], "Nobody who may sign in is named nobody."),
        (["posters", "H1"], "invalid choice"),
    ],
)
def test_what_cannot_be_printed_leaves_no_file_and_no_record(
    hooks: Lot, owner: User, tmp_path: Path, more: list[str], said: str
) -> None:
    create_person(
        username="vera", display_name="Vera", role=Role.VIEWER, password=None, by=owner, at=MONDAY
    )
    with pytest.raises(CommandError, match=said):
        labels(*more, "--file", tmp_path / "one.pdf")
    assert not (tmp_path / "one.pdf").exists()
    assert not PrintedPaper.objects.exists()


def test_no_file_is_written_over(hooks: Lot, tmp_path: Path) -> None:
    (tmp_path / "one.pdf").write_text("kept")
    with pytest.raises(CommandError, match="Name a new file"):
        labels("lots", "H1", "--file", tmp_path / "one.pdf")
    with pytest.raises(CommandError, match="cannot be written"):
        labels("lots", "H1", "--file", tmp_path / "no folder" / "one.pdf")
    assert (tmp_path / "one.pdf").read_text() == "kept"
    assert not Printing.objects.exists()
