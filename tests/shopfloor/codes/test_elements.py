"""Element strings are built short, read in any order, and refused for one named reason."""

from __future__ import annotations

import pytest
from hypothesis import given

from shopfloor.codes.errors import (
    CheckDigitError,
    Gs1IdentifierUnknownError,
    Gs1PartnersError,
    Gs1RepeatedError,
    Gs1TextError,
    Gs1ValueError,
    RestrictedNumberError,
)
from shopfloor.codes.gs1.elements import (
    FNC1,
    GS1_128_LENGTH_MAX,
    Element,
    ElementString,
    element_string,
    read_elements,
)
from shopfloor.codes.gs1.partners import check_together
from shopfloor.errors import ShopError
from tests.shopfloor.codes.element_strings import any_elements

GTIN = "09521234543213"
SSCC = "395212340000000014"


@given(built=any_elements())
def test_what_is_built_is_read_again_the_same(built: ElementString) -> None:
    assert read_elements(built.data) == built
    assert read_elements(f"]C1{built.data}") == built
    assert read_elements(f"]d2{built.symbol_text}") == built


@given(built=any_elements())
def test_no_separator_stands_last_nor_after_data_of_fixed_length(built: ElementString) -> None:
    separators = [element.identifier.has_separator for element in built.elements[:-1]]
    assert built.data.count(FNC1) == sum(separators)
    assert not built.data.endswith(FNC1)


@given(built=any_elements())
def test_the_text_for_people_has_the_data_of_the_symbol_and_only_that(built: ElementString) -> None:
    assert [str(element) for element in built.elements] == [
        f"({element.ai}){element.value}" for element in built.elements
    ]
    bare = "".join(element.ai + element.value for element in built.elements)
    assert built.data.replace(FNC1, "") == bare
    assert len(built.human) == len(bare) + 2 * len(built.elements)


def test_keys_come_first_then_fixed_lengths_then_the_rest() -> None:
    built = element_string({"10": "A", "21": "7", "17": "271231", "3103": "001250", "01": GTIN})
    assert [element.ai for element in built.elements] == ["01", "17", "3103", "10", "21"]
    assert built.data == f"01{GTIN}172712313103001250{'10A'}{FNC1}217"


@pytest.mark.parametrize(
    "text",
    [
        f"10AX8{FNC1}01{GTIN}",
        f"]C110AX8{FNC1}01{GTIN}",
        f"]d210AX8{FNC1}01{GTIN}{FNC1}",
        f"]Q3{FNC1}10AX8{FNC1}01{GTIN}",
        f"(10)AX8(01){GTIN}",
    ],
)
def test_elements_are_read_in_any_order_and_dress(text: str) -> None:
    read = read_elements(text)
    assert read.elements == (Element("10", "AX8"), Element("01", GTIN))
    assert (read.value("10"), read.value("17")) == ("AX8", None)


def test_a_separator_after_data_of_fixed_length_is_no_matter() -> None:
    assert read_elements(f"01{GTIN}{FNC1}10A").human == f"(01){GTIN}(10)A"


def test_the_same_data_twice_is_one_element() -> None:
    assert read_elements(f"01{GTIN}10A{FNC1}01{GTIN}").human == f"(01){GTIN}(10)A"


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("", Gs1TextError, "no GS1 data"),
        ("]d2", Gs1TextError, "no GS1 data"),
        ("]C0" + GTIN, Gs1TextError, "]C0"),
        ("(a1)7", Gs1TextError, "round brackets"),
        (f"(01){GTIN}(999)1", Gs1IdentifierUnknownError, "999"),
        (f"01{GTIN}0509", Gs1IdentifierUnknownError, "0509"),
        ("(01)", Gs1ValueError, "(01) GTIN"),
        (f"(01){GTIN}(10)", Gs1ValueError, "1 to 20"),
        (f"01{GTIN}10{FNC1}21A", Gs1ValueError, "(10) BATCH/LOT"),
        (f"(01){GTIN}(10){'A' * 21}", Gs1ValueError, "not 21"),
        (f"01{GTIN}10{'A' * 21}", Gs1ValueError, "separator"),
        (f"(01){GTIN}(10)A B", Gs1ValueError, "a space is not one"),
        (f"(01){GTIN}(10)A\N{FISHING POLE AND FISH}", Gs1ValueError, "\N{FISHING POLE AND FISH}"),
        (f"(01){GTIN}(10)A\t1", Gs1ValueError, "U+0009"),
        ("(01)0952123454321X", Gs1ValueError, "digits only"),
        ("(01)952123454321", Gs1ValueError, "not 12"),
        ("(01)09521234543214", CheckDigitError, "(01) GTIN"),
        (f"(01){GTIN}(17)270229", Gs1ValueError, "not a day"),
        (f"(01){GTIN}(7003)2702282400", Gs1ValueError, "a time"),
        (f"(01){GTIN}(8008)270228235", Gs1ValueError, "in a row"),
        (f"(01){GTIN}(10)A(10)B", Gs1RepeatedError, "twice"),
    ],
)
def test_each_fault_is_named_with_its_identifier(
    text: str, error: type[ShopError], says: str
) -> None:
    with pytest.raises(error) as refused:
        read_elements(text)
    assert says in refused.value.detail


@pytest.mark.parametrize("moment", ["27022823", "2702282359", "270228235959"])
def test_what_may_be_left_out_of_a_time_may(moment: str) -> None:
    assert read_elements(f"01{GTIN}8008{moment}").value("8008") == moment


@pytest.mark.parametrize(
    ("texts", "ai"),
    [
        ([f"(01){GTIN}(37)48"], "01"),
        ([f"(01){GTIN}", "(37)48"], "01"),
        (["(10)A"], "10"),
        ([f"(02){GTIN}"], "02"),
        ([f"(02){GTIN}(37)4"], "37"),
        ([f"(01){GTIN}(3102)000125(3103)001250"], "3102"),
        ([f"(01){GTIN}(420)12345(421)84012345"], "420"),
        ([f"(01){GTIN}(427)MN"], "427"),  # needs (422) as well
        ([f"(01){GTIN}(3920)500"], "3920"),  # needs an amount as well
    ],
)
def test_what_may_not_be_on_one_thing_is_refused(texts: list[str], ai: str) -> None:
    with pytest.raises(Gs1PartnersError) as refused:
        check_together(*map(read_elements, texts))
    assert refused.value.facts["ai"] == ai


@pytest.mark.parametrize("text", ["(422)840(427)MN", "(3920)500(30)2", "(3920)500(3102)000125"])
def test_what_needs_several_others_is_content_with_them(text: str) -> None:
    check_together(read_elements(f"(01){GTIN}{text}"))


def test_all_symbols_on_one_thing_are_judged_together() -> None:
    check_together(read_elements(f"(02){GTIN}(37)4(10)A"), read_elements(f"(00){SSCC}"))
    with pytest.raises(Gs1RepeatedError):
        check_together(read_elements(f"(01){GTIN}(10)A"), read_elements("(10)B"))


@pytest.mark.parametrize(
    "text",
    ["(01)00400000000015", "(01)02000000000015", "(01)12000000000012", "(00)020000000000000015"],
)
def test_a_number_of_restricted_circulation_is_neither_gtin_nor_sscc(text: str) -> None:
    read = read_elements(text)
    with pytest.raises(RestrictedNumberError):
        check_together(read)


def test_a_gs1_128_has_at_most_48_characters_separators_counted() -> None:
    most = element_string({"01": GTIN, "10": "A" * 11, "21": "B" * 16})
    assert len(most.data) == GS1_128_LENGTH_MAX
    assert most.fits_gs1_128
    assert not element_string({"01": GTIN, "10": "A" * 12, "21": "B" * 16}).fits_gs1_128
