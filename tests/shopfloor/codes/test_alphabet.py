"""Our codes: short, safe to read aloud, and a slip is noticed."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from shopfloor.codes.alphabet import (
    ALPHABET,
    NUMBER_MAX,
    Prefix,
    check_character,
    decode,
    encode,
    noun,
    own_code,
)
from shopfloor.codes.errors import (
    CodeTypoError,
    CodeUnreadableError,
    OwnCodeError,
    WrongKindOfCodeError,
)

NUMBERS = st.integers(0, NUMBER_MAX)
PREFIXES = st.sampled_from(Prefix)


def test_the_alphabet_is_28_symbols_without_those_that_are_confused() -> None:
    assert len(set(ALPHABET)) == len(ALPHABET) == 28
    assert not set(ALPHABET) & set("01BILOSU")


def test_every_kind_has_one_letter_of_its_own_and_a_name() -> None:
    letters = [prefix.value for prefix in Prefix]
    assert all(len(letter) == 1 and "A" <= letter <= "Z" for letter in letters)
    assert len(set(letters)) == len(letters)
    assert noun(Prefix.SUPPLIER_ORDER) == "supplier order"


@given(number=NUMBERS, prefix=PREFIXES)
def test_every_number_comes_back_from_its_code(number: int, prefix: Prefix) -> None:
    code = encode(number, prefix)
    assert decode(code) == (prefix, number)
    assert decode(code, prefix) == (prefix, number)
    assert set(code[2:]) <= set(ALPHABET)


@given(number=NUMBERS, prefix=PREFIXES)
def test_the_check_character_is_that_of_a_second_implementation(
    number: int, prefix: Prefix
) -> None:
    # python-stdnum's hybrid system of ISO/IEC 7064 with our alphabet; it knows no prefix, so the
    # letter is handed over as the symbol of the same value.
    code = encode(number, prefix)
    as_symbols = ALPHABET[ord(code[0]) - ord("A")] + code[2:-1]
    assert mod_37_36.calc_check_digit(as_symbols, alphabet=ALPHABET) == code[-1]


@given(number=NUMBERS, prefix=PREFIXES)
def test_lower_case_space_and_a_missing_hyphen_are_no_matter(number: int, prefix: Prefix) -> None:
    code = encode(number, prefix)
    assert decode(f"  {code.lower()}\n") == decode(code.replace("-", "")) == (prefix, number)


@pytest.mark.parametrize(
    ("number", "length"), [(0, 4), (28**3 - 1, 4), (28**3, 5), (28**4, 6), (NUMBER_MAX, 10)]
)
def test_a_code_has_at_least_four_symbols_and_grows_with_the_number(
    number: int, length: int
) -> None:
    assert len(encode(number, "L")) == len("L-") + length


@given(data=st.data(), number=NUMBERS, prefix=PREFIXES)
def test_every_single_wrong_symbol_is_noticed(
    data: st.DataObject, number: int, prefix: Prefix
) -> None:
    code = encode(number, prefix)
    place = data.draw(st.integers(2, len(code) - 1))
    wrong = data.draw(st.sampled_from(ALPHABET).filter(lambda symbol: symbol != code[place]))
    with pytest.raises(CodeTypoError):
        decode(code[:place] + wrong + code[place + 1 :])


@given(number=NUMBERS, prefix=PREFIXES, other=PREFIXES)
def test_a_wrong_prefix_is_noticed(number: int, prefix: Prefix, other: Prefix) -> None:
    assume(prefix is not other)
    with pytest.raises(CodeTypoError):
        decode(other + encode(number, prefix)[1:])


def test_of_two_swapped_neighbours_all_but_three_in_a_thousand_are_noticed() -> None:
    # ISO/IEC 7064 promises "nearly all" for its hybrid systems.
    symbols = [encode(number, "L")[2:] for number in range(28**3)]
    swapped = [
        text[:place] + text[place + 1] + text[place] + text[place + 2 :]
        for text in symbols
        for place in range(3)
        if text[place] != text[place + 1]
    ]
    missed = sum(check_character("L", text[:-1]) == text[-1] for text in swapped)
    assert (missed, len(swapped)) == (168, 63_504)


@pytest.mark.parametrize("character", "0OoIl1BSU?é")
def test_a_character_our_codes_never_use_is_a_slip(character: str) -> None:
    code = encode(12345, "L")
    with pytest.raises(CodeTypoError):
        decode(code[:3] + character + code[4:])


def test_a_number_has_no_second_code_with_zeros_before_it() -> None:
    digits = ALPHABET[0] + encode(12345, "L")[2:-1]
    with pytest.raises(CodeTypoError):
        decode(f"L-{digits}{check_character('L', digits)}")


@pytest.mark.parametrize("text", ["", "L", "L-", "L-222", "Z-2222", "-2222", "L-" + "2" * 11])
def test_what_is_no_code_of_ours_is_refused(text: str) -> None:
    with pytest.raises(CodeUnreadableError):
        decode(text)


def test_a_code_of_another_kind_is_refused_by_name() -> None:
    with pytest.raises(WrongKindOfCodeError) as refused:
        decode(encode(7, Prefix.BATCH), Prefix.LOT)
    assert (refused.value.facts["kind"], refused.value.facts["wanted"]) == ("batch", "lot")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("hook-6", "HOOK-6"),
        (" SR.2X ", "SR.2X"),
        ("7", "7"),
        ("A-1", "A-1"),
        ("L", "L"),
        ("LB-1", "LB-1"),
        ("X" * 24, "X" * 24),
    ],
)
def test_a_code_of_the_shop_is_kept_in_upper_case(text: str, code: str) -> None:
    assert own_code(text) == code


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "   ",
            "X" * 25,
            "-A",
            "A-",
            ".A",
            "A.",
            "A B",
            "A/B",
            "A_B",
            "É1",
            "A\nB",
            "()",
            "ma\u00df",
        ),
        *("L-1", "b-2", "x-HOOK", encode(7, "H")),
    ],
)
def test_a_code_that_cannot_be_printed_or_told_apart_is_refused(text: str) -> None:
    with pytest.raises(OwnCodeError):
        own_code(text)


@given(text=st.text(max_size=30))
def test_a_code_of_the_shop_is_one_in_every_way_it_is_written(text: str) -> None:
    try:
        code = own_code(text)
    except OwnCodeError:
        return
    assert own_code(code) == own_code(code.lower()) == code
    assert code.isascii()
