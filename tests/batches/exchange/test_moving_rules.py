"""A sheet of a moved shop is read only as it is written; what a person gets to hear otherwise."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.exchange.rules.moving_about import FolderRefusedError
from batches.exchange.rules.moving_cells import (
    DAY,
    IP_ADDRESS,
    JSON,
    MOMENT,
    YES_NO,
    CellKind,
    decimal,
    one_of,
    text,
    whole_number,
)
from batches.exchange.rules.moving_sheets import MovingColumn, MovingSheet, read_sheet, written

GRADE = one_of(frozenset({"first", "second"}))
SHEET = MovingSheet(
    "thing",
    [
        MovingColumn("id", whole_number(1, 2**63 - 1)),
        MovingColumn("words", text(6)),
        MovingColumn("parent", whole_number(1, 9), is_optional=True),
        MovingColumn("ratio", decimal(digits=20, places=3)),
        MovingColumn("grade", GRADE),
        MovingColumn("at", MOMENT, is_optional=True),
        MovingColumn("on", DAY),
        MovingColumn("yes", YES_NO),
        MovingColumn("answer", JSON, is_optional=True),
        MovingColumn("address", IP_ADDRESS, is_optional=True),
    ],
)
AT = datetime(2026, 3, 2, 18, 0, 0, 5, tzinfo=UTC)
HEADER = "id,words,parent,ratio,grade,at,on,yes,answer,address\r\n"
ONE = "1,=A1,,0.500,first,2026-03-02T18:00:00.000005Z,2026-03-02,yes,[1],192.0.2.1\r\n"
TWO = "2,,1,12.000,second,,2026-03-03,no,,\r\n"


def rows_of(text_of_file: str) -> list[tuple[Any, ...]]:
    chunks = read_sheet(SHEET, StringIO(text_of_file, newline=""))
    return [row for columns in chunks for row in zip(*columns, strict=True)]


def refusal(text_of_file: str) -> str:
    with pytest.raises(FolderRefusedError) as refused:
        rows_of(text_of_file)
    return str(refused.value).removeprefix("Nothing was imported. thing.csv")


def test_a_sheet_is_written_as_it_is_read() -> None:
    values: list[Sequence[Any]] = [
        (1, "=A1", None, Decimal("0.5"), "first", AT, date(2026, 3, 2), True, [1], "192.0.2.1"),
        (2, "", 1, Decimal(12), "second", None, date(2026, 3, 3), False, None, None),
    ]
    out = StringIO(newline="")
    csv.writer(out).writerows([SHEET.header, *written(SHEET, values)])
    assert out.getvalue() == HEADER + ONE + TWO
    assert [row[:4] for row in rows_of(out.getvalue())] == [
        ("1", "=A1", None, "0.500"),
        ("2", "", "1", "12.000"),
    ]


TIME = "a time in UTC with microseconds, like 2026-03-01T14:30:00.000000Z"
CANONICAL = "JSON with sorted names and no spaces between them"
ID = "a whole number from 1 to 9223372036854775807"
RATIO = (
    "a number with 3 digits after its point, at most 17 before it, and at most 15 from its first"
    " to its last that is not 0"
)
SHORT = "words of at most 6 characters without a zero character"

# what stands in row 2, what is written instead, what is said of it
CELLS = [
    ("1,=A1", "1e3,=A1", f" row 2, id “1e3”: It holds {ID}."),
    ("1,=A1", "01,=A1", f" row 2, id “01”: It holds {ID}."),
    ("1,=A1", "1_0,=A1", f" row 2, id “1_0”: It holds {ID}."),
    ("1,=A1", "0,=A1", f" row 2, id “0”: It holds {ID}."),
    ("1,=A1", ",=A1", f" row 2, id: It holds {ID}."),
    (
        "1,=A1", "9223372036854775808,=A1",
        f" row 2, id “9223372036854775808”: It holds {ID}.",
    ),
    ("=A1", "seven77", f" row 2, words “seven77”: It holds {SHORT}."),
    ("=A1", "a\0b", f" row 2, words “a\0b”: It holds {SHORT}."),
    ("0.500", "0.5", f" row 2, ratio “0.5”: It holds {RATIO}."),
    ("0.500", "NaN", f" row 2, ratio “NaN”: It holds {RATIO}."),
    ("0.500", "half", f" row 2, ratio “half”: It holds {RATIO}."),
    ("0.500", "1234567890123.456", f" row 2, ratio “1234567890123.456”: It holds {RATIO}."),
    (
        "0.500", "100000000000000000.000",
        f" row 2, ratio “100000000000000000.000”: It holds {RATIO}.",
    ),
    ("first", "best", " row 2, grade “best”: It holds one of: first, second."),
    (".000005Z", "Z", f" row 2, at “2026-03-02T18:00:00Z”: It holds {TIME}."),
    (
        ".000005Z", ".000005+01:00",
        f" row 2, at “2026-03-02T18:00:00.000005+01:00”: It holds {TIME}.",
    ),
    ("T18", " 18", f" row 2, at “2026-03-02 18:00:00.000005Z”: It holds {TIME}."),
    ("03-02,yes", "02-30,yes", " row 2, on “2026-02-30”: It holds a day, like 2026-03-01."),
    ("2026-03-02,yes", "20260302,yes", " row 2, on “20260302”: It holds a day, like 2026-03-01."),
    ("yes,[1]", "true,[1]", " row 2, yes “true”: It holds one of: no, yes."),
    ("[1]", '"[1,NaN]"', f" row 2, answer “[1,NaN]”: It holds {CANONICAL}."),
    ("[1]", "[1] ", f" row 2, answer “[1]”: It holds {CANONICAL}."),
    ("[1]", "null", f" row 2, answer “null”: It holds {CANONICAL}."),
    (
        "192.0.2.1", "here",
        " row 2, address “here”: It holds an address of a network, like 192.0.2.1.",
    ),
    ("=A1,,", "=A1,", " row 2: It has 9 cells, the header has 10."),
    ("=A1", '"=A1', ": Line 3 is no line of a CSV file (unexpected end of data)."),
    (
        "1,=A1", "2,=A1",
        " row 3, id “2”: Rows stand in the order of this number, each once; above is 2.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), CELLS, ids=[new for _, new, _ in CELLS])
def test_a_cell_that_is_not_as_it_would_be_written_is_named(old: str, new: str, said: str) -> None:
    assert old in ONE
    assert refusal(HEADER + ONE.replace(old, new) + TWO) == said


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("", " row 1, id: The column is missing."),
        (HEADER.replace("ratio", "share"), " row 1, share: There is no such column."),
        (HEADER.replace(",ratio", ""), " row 1, ratio: The column is missing."),
        (
            HEADER.replace("words,parent", "parent,words"),
            f" row 1: The columns are, in this order: {', '.join(SHEET.header)}.",
        ),
    ],
)
def test_another_header_is_refused(header: str, said: str) -> None:
    assert refusal(header) == said


KINDS: list[tuple[CellKind, st.SearchStrategy[Any]]] = [
    (whole_number(-(2**63), 2**63 - 1), st.integers(-(2**63), 2**63 - 1)),
    (text(None), st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))),
    (
        decimal(digits=20, places=9),
        st.decimals(-999_999, 999_999, places=9, allow_nan=False, allow_infinity=False),
    ),
    (MOMENT, st.datetimes(timezones=st.just(UTC))),
    (DAY, st.dates()),
    (YES_NO, st.booleans()),
    (
        JSON,
        st.dictionaries(st.text(), st.none() | st.booleans() | st.integers() | st.text())
        | st.lists(st.floats(allow_nan=False, allow_infinity=False)),
    ),
]


@pytest.mark.parametrize(("kind", "values"), KINDS, ids=[kind.words[:20] for kind, _ in KINDS])
@given(data=st.data())
def test_every_value_has_one_spelling_that_survives_a_file(
    kind: CellKind, values: st.SearchStrategy[Any], data: st.DataObject
) -> None:
    drawn = data.draw(st.lists(values, min_size=1, max_size=5))
    number = MovingColumn("id", whole_number(1, 9))
    sheet = MovingSheet("thing", [number, MovingColumn("value", kind)])
    cells = list(written(sheet, list(enumerate(drawn, 1))))
    out = StringIO(newline="")
    csv.writer(out).writerows([sheet.header, *cells])
    read = [columns[1] for columns in read_sheet(sheet, StringIO(out.getvalue(), newline=""))]
    assert [list(column) for column in read] == [[cell for _, cell in cells]]
