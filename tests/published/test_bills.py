"""Bill-of-materials arithmetic against the published definition of its method."""

from decimal import Decimal

from batches.bills.rules import BillFigures, LineFigures, low_level_codes, needs_below

# D and F are taken at several levels. The figures are not printed in a book: they were computed
# from the definition, once by relaxing longest paths and once by exploding the bills recursively.
PIECES = {
    "A": {"B": 2, "C": 1},
    "B": {"D": 3, "E": 1},
    "C": {"D": 2, "F": 4},
    "E": {"F": 1, "D": 1},
}
BILLS = {
    item: BillFigures(
        lines=tuple(
            LineFigures(item=each, per_piece_base=Decimal(pieces)) for each, pieces in below.items()
        )
    )
    for item, below in PIECES.items()
}


def test_low_level_codes_follow_the_longest_way_down() -> None:
    """J. Orlicky, Material Requirements Planning, 1975; W. J. Stevenson, Operations Management."""
    assert low_level_codes(PIECES) == {"A": 0, "B": 1, "C": 1, "E": 2, "D": 3, "F": 3}


def test_ten_of_the_top_item_explode_into_gross_requirements() -> None:
    """The same: ten A with nothing in stock."""
    per_piece = needs_below(bills=BILLS, item="A")
    gross = {item: need * 10 for item, need in per_piece.items()}
    assert gross == {"B": 20, "C": 10, "D": 100, "E": 20, "F": 60}


def test_a_window_shutter_explodes_into_frames_and_wood() -> None:
    """W. J. Stevenson, Operations Management, Example 2, window shutters (from memory).

    A shutter takes 2 frames and 4 pieces of wood: 100 shutters take 200 and 400 gross, 150 take
    300 and 600. The dates and lots of the example are planning's matter.
    """
    shutter = BillFigures(
        lines=(
            LineFigures(item="frame", per_piece_base=Decimal(2)),
            LineFigures(item="wood", per_piece_base=Decimal(4)),
        )
    )
    per_piece = needs_below(bills={"shutter": shutter}, item="shutter")
    assert {item: need * 100 for item, need in per_piece.items()} == {"frame": 200, "wood": 400}
    assert {item: need * 150 for item, need in per_piece.items()} == {"frame": 300, "wood": 600}
