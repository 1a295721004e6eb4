"""Every kind of wrong sheet, with the very words that a person reads: a row of slips.csv each."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

import pytest

from batches.exchange.rules.problems import PROBLEMS_SHOWN_MAX
from tests.batches.exchange.conftest import Imports
from tests.batches.exchange.small import SMALL, bytes_of, changed, problems_in

pytestmark = pytest.mark.django_db


class Slip(NamedTuple):
    """One slip in one sheet of the small shop, and what is said about it."""

    slip: str
    file: str
    old: str
    new: str
    said: str


def slips() -> list[Slip]:
    path = Path(__file__).with_name("slips.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return [Slip(**row) for row in csv.DictReader(file)]


@pytest.mark.parametrize("slip", slips(), ids=lambda slip: slip.slip)
def test_a_slip_is_named_with_what_would_be_right(slip: Slip) -> None:
    files = bytes_of(changed(slip.file, slip.old, slip.new))
    assert problems_in(files) == [slip.said]


def test_all_problems_are_told_together_in_the_order_of_sheets_and_rows() -> None:
    sheets = changed("runs.csv", "LOST:1,,,,20,hand", "LOST:1,,,,20,foot")
    sheets["people.csv"] = "username,display_name,role\nhand,A hand,boss\nleft,Left,bench\n"
    assert problems_in(bytes_of(sheets)) == [
        "people.csv row 2, role “boss”: Use one of: lead, bench, packer, viewer.",
        "runs.csv row 6, done_by “foot”: No person foot in people.csv or in this shop.",
    ]


def test_a_hundred_problems_are_shown_and_the_rest_is_counted() -> None:
    rows = "".join(f"C{number},\n" for number in range(PROBLEMS_SHOWN_MAX + 23))
    said = problems_in({"colorways.csv": f"code,name\n{rows}".encode()})
    assert len(said) == PROBLEMS_SHOWN_MAX + 1
    assert said[-1] == "and 23 more"


def test_a_sheet_that_was_not_read_whole_does_not_make_others_wrong() -> None:
    files = bytes_of({**SMALL, "items.csv": SMALL["items.csv"].replace("HOOK,Hook,", "HOOK,")})
    assert problems_in(files) == ["items.csv row 9: It has 7 cells, the header has 8."]


def test_what_stands_in_the_shop_already_is_named(imports: Imports) -> None:
    imports({"places.csv": SMALL["places.csv"], "people.csv": SMALL["people.csv"]})
    # The same rows and one more each, or it would be the file that is named.
    more = {
        "places.csv": f"{SMALL['places.csv']}NEW,New,shelf\n",
        "people.csv": f"{SMALL['people.csv']}new,New,bench\n",
    }
    assert problems_in(bytes_of({**SMALL, **more})) == [
        f"people.csv row 2, username “hand”: {STANDS}",
        f"places.csv row 2, code “SHELF”: {STANDS}",
        f"places.csv row 3, code “BENCH”: {STANDS}",
    ]


STANDS = "It stands in this shop already; an import only adds. Leave the row out."
