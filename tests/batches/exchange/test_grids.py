"""Wrong sheets in their own grid: rows and columns as in the file."""

from __future__ import annotations

from typing import Any

from batches.exchange.rules.grids import GridCell, grids_of, loose
from batches.exchange.rules.writing import AS_OURS, Writing

ITEMS = b"code,name,kind\nHOOK,Hook,hook\n\nRING,,split_ring\nEYE,Eye,ey\n"


def problem(row: int, column: str, advice: str, **more: Any) -> dict[str, Any]:
    return {
        "file": "items.csv", "row": row, "column": column, "found": "", "advice": advice, **more,
    }  # fmt: skip


def test_only_wrong_rows_are_shown_with_their_numbers_and_wrong_cells() -> None:
    found = [problem(4, "name", "It is empty."), problem(5, "kind", "No such kind.")]
    [grid] = grids_of({"items.csv": ITEMS}, found, AS_OURS)
    assert (grid.label, [cell.text for cell in grid.headings]) == (
        "items.csv",
        ["code", "name", "kind"],
    )
    assert [row.number for row in grid.rows] == [4, 5]
    assert grid.rows[0].cells == [
        GridCell("RING"),
        GridCell("", ["It is empty."]),
        GridCell("split_ring"),
    ]
    assert grid.rows[1].cells[2] == GridCell("ey", ["No such kind."])
    assert loose(found, [grid]) == []


def test_a_column_is_found_under_a_heading_of_the_shops_own() -> None:
    data = ITEMS.replace(b"kind\n", b"What it is\n", 1)
    said = Writing(headings={("items", "what_it_is"): "kind"})
    [grid] = grids_of({"items.csv": data}, [problem(5, "kind", "No such kind.")], said)
    assert grid.rows[0].cells[2].wrong == ["No such kind."]


def test_a_heading_that_nobody_knows_is_marked_in_the_header() -> None:
    data = ITEMS.replace(b"kind\n", b"Sort\n", 1)
    found = [problem(1, "", "The sheet has no such column.", found="Sort")]
    [grid] = grids_of({"items.csv": data}, found, AS_OURS)
    assert grid.headings[2] == GridCell("Sort", ["The sheet has no such column."])
    assert loose(found, [grid]) == []


def test_what_is_about_a_row_stands_at_its_number_and_about_a_file_beside_the_grid() -> None:
    whole = problem(0, "", "Came before.")
    missing = problem(1, "", "The column dimension is missing; it must be there.")
    found = [problem(2, "", "Row 2 is short."), whole, missing]
    [grid] = grids_of({"items.csv": ITEMS}, found, AS_OURS)
    assert (grid.rows[0].number, grid.rows[0].wrong) == (2, ["Row 2 is short."])
    assert loose(found, [grid]) == [whole, missing]


def test_a_file_that_cannot_be_read_has_no_grid() -> None:
    found = [problem(0, "", "The file is empty. It begins with a header.")]
    assert grids_of({"items.csv": b""}, found, AS_OURS) == []
    assert loose(found, []) == found
