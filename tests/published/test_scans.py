"""Published and separately computed GS1 values, as a scanner sends them; `gs1_values.json`."""

from __future__ import annotations

from typing import Any

import pytest

from shopfloor.codes.gs1.words import read_words
from shopfloor.codes.scan import SEPARATOR_SIGN, read_scan
from tests.published.test_gs1_elements import of_kind, text_of


@pytest.mark.parametrize("value", of_kind("element_string"))
@pytest.mark.parametrize("sign", ["]d2", "]C1", "]Q3", "]e0", "]J1", "]c1", "]D2", "]q3", "]j1"])
def test_an_element_string_is_read_whatever_symbol_it_was_in(
    value: dict[str, Any], sign: str
) -> None:
    raw = text_of(value, "raw")
    sent = sign + (raw.swapcase() if sign in {"]c1", "]D2", "]q3", "]j1"} else raw)
    for form in (sent, sent.replace("\x1d", SEPARATOR_SIGN) + "\r\n"):
        elements = read_scan(form).elements
        assert elements is not None
        said = read_words(elements, reference_year=2026)
        assert [(row.ai, row.value) for row in said] == [
            (each["ai"], each["value"]) for each in value["expected"]
        ]
        days = {each["ai"]: each["date"] for each in value["expected"] if "date" in each}
        assert {row.ai: row.words for row in said if row.ai in days} == days
