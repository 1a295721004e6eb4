"""What a traveler says of a batch that is under way, or finished."""

from __future__ import annotations

from batches.labels.rules.papers import Traveler
from tests.batches.labels.conftest import drawn, overprinted, words

UNDER_WAY = Traveler(
    code="B-2225",
    item="BODY-90",
    item_name="Body, minnow 90",
    stage="Gluing",
    state="running",
    planned="500 each",
    made="200 each good, 3 each scrapped",
    left="300 each",
    comes_from=("Molding: HALF-L, HALF-R",),
    goes_to=("Painting: PAINTED-90-SHAD",),
    equipment=("WHEEL-1",),
)


def test_a_traveler_says_what_is_made_what_is_left_and_what_comes_before_and_after() -> None:
    pdf = drawn(UNDER_WAY)
    said = words(pdf).replace("\n", " ")
    for part in (
        "Comes from Molding: HALF-L, HALF-R",
        "Goes to Painting: PAINTED-90-SHAD",
        "Made so far: 200 each good, 3 each scrapped",
        "Still to make: 300 each",
        "Equipment so far: WHEEL-1",
        "Checks",
    ):
        assert part in said
    assert overprinted(pdf) == []
