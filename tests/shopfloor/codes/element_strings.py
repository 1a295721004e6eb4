"""Random element strings that hold every rule: what hypothesis draws for the tests here."""

from __future__ import annotations

from datetime import date

from hypothesis import strategies as st

from shopfloor.codes.gs1.elements import ElementString, element_string
from shopfloor.codes.gs1.numbers import check_digit
from shopfloor.codes.gs1.partners import check_together

CHARACTERS_82 = (
    "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
)


def digits(length_min: int, length_max: int) -> st.SearchStrategy[str]:
    return st.text("0123456789", min_size=length_min, max_size=length_max)


def letters(length_max: int) -> st.SearchStrategy[str]:
    # Digits often, so that code sets change within.
    some = st.sampled_from(CHARACTERS_82) | st.sampled_from("0123456789")
    return st.text(some, min_size=1, max_size=length_max)


def with_check_digit(body: str) -> str:
    return body + check_digit(body)


# The demonstration prefix, so that nothing here is anybody's number.
GTINS = digits(9, 9).map(lambda rest: with_check_digit("0952" + rest))
SSCCS = digits(13, 13).map(lambda rest: with_check_digit("3952" + rest))
DAYS = st.dates(date(1977, 1, 1), date(2076, 12, 31)).map(lambda day: day.strftime("%y%m%d"))
# Never a key, and what each may stand beside either key.
DETAILS = {
    "10": letters(20),
    "11": DAYS,
    "13": DAYS,
    "15": DAYS,
    "17": DAYS,
    "20": digits(2, 2),
    "240": letters(30),
    "241": letters(30),
    "30": digits(1, 8),
    "3103": digits(6, 6),
    "3201": digits(6, 6),
    "3150": digits(6, 6),
    "400": letters(30),
    "420": letters(20),
    "90": letters(30),
    "91": letters(90),
}


@st.composite
def any_elements(draw: st.DrawFn, *, length_max: int = 300) -> ElementString:
    """An article, or a box and what is in it, with any details."""
    values = (
        {"00": draw(SSCCS), "02": draw(GTINS), "37": draw(digits(1, 8))}
        if draw(st.booleans())
        else {"01": draw(GTINS)}
    )
    for ai in draw(st.lists(st.sampled_from(sorted(DETAILS)), max_size=5, unique=True)):
        detail = draw(DETAILS[ai])
        longer = element_string({**values, ai: detail})
        if len(longer.data) <= length_max:
            values[ai] = detail
    built = element_string(values)
    check_together(built)
    return built
