"""What the symbols of a carton may carry, judged by GS1's rules and by an unrelated reader."""

from __future__ import annotations

import pytest
from biip import parse

from batches.labels.rules.papers_packing import PIECES_MAX, carton_elements
from shopfloor.codes.errors import CheckDigitError, Gs1ValueError
from shopfloor.codes.gs1.partners import check_together

# Made of the prefix 952, which is for demonstrations and examples only.
GTIN = "09521234000013"
SSCC = "095212345678901235"


def human(gtin: str = GTIN, pieces: int = 24, lots: tuple[str, ...] = ("L-2227",)) -> str:
    elements = carton_elements(sscc=SSCC, gtin=gtin, pieces=pieces, lots=lots)
    check_together(elements)
    return elements.human


def test_one_article_of_one_lot_says_what_how_many_and_which_lot() -> None:
    assert human() == f"(00){SSCC}(02){GTIN}(37)24(10)L-2227"


def test_another_reader_finds_the_same_in_it() -> None:
    elements = carton_elements(sscc=SSCC, gtin=GTIN, pieces=24, lots=("L-2227",))
    message = parse(elements.data).gs1_message
    assert message is not None
    assert [(each.ai.ai, each.value) for each in message.element_strings] == [
        ("00", SSCC),
        ("02", GTIN),
        ("37", "24"),
        ("10", "L-2227"),
    ]


def test_several_lots_are_never_one_lot() -> None:
    assert human(lots=("L-2227", "L-2228")) == f"(00){SSCC}(02){GTIN}(37)24"


def test_a_lot_code_that_identifier_10_cannot_carry_is_left_to_the_text() -> None:
    assert human(lots=("L" * 20,)) == f"(00){SSCC}(02){GTIN}(37)24(10){'L' * 20}"
    assert human(lots=("L" * 21,)) == f"(00){SSCC}(02){GTIN}(37)24"


@pytest.mark.parametrize(
    ("gtin", "pieces"),
    [
        ("", 24),
        ("02012345678903", 24),  # restricted circulation: prefix 20
        (GTIN, 0),
        (GTIN, PIECES_MAX + 1),
    ],
)
def test_what_gs1_cannot_say_leaves_the_sscc_alone(gtin: str, pieces: int) -> None:
    assert human(gtin=gtin, pieces=pieces) == f"(00){SSCC}"


def test_as_many_pieces_as_identifier_37_has_digits_for() -> None:
    assert "(37)99999999" in human(pieces=PIECES_MAX)


@pytest.mark.parametrize(
    ("sscc", "refusal"), [("095212345678901234", CheckDigitError), ("0952", Gs1ValueError)]
)
def test_a_wrong_sscc_is_refused(sscc: str, refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        carton_elements(sscc=sscc, gtin="", pieces=1, lots=())
