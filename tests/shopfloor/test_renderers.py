"""The fast way to JSON says what the plain one says."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.renderers import JSONRenderer

from shopfloor.renderers import FastJSONRenderer
from shopfloor.roles import Role


class Row(NamedTuple):
    """A tuple with names."""

    code: str


def both(data: Any) -> tuple[Any, Any]:
    return json.loads(FastJSONRenderer().render(data)), json.loads(JSONRenderer().render(data))


@pytest.mark.parametrize(
    "data",
    [
        {"at": datetime(2026, 3, 2, 18, 0, 0, 120, tzinfo=UTC), "on": date(2026, 3, 2)},
        {"role": Role.OWNER, Role.LEAD: None, 7: True},
        [Row("L-1"), Decimal("2.5"), 10**30, -(2**63), 1e300],
        {"text": 'tab\t, quote ", \u2028, \x7f, ünïcode, \U0001f41f'},
        [],
    ],
)
def test_it_says_the_same(data: Any) -> None:
    fast, plain = both(data)
    assert fast == plain


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(codec="utf-8")), inner),
)


@given(values.filter(lambda data: data is not None))
def test_it_says_the_same_of_anything(data: Any) -> None:
    fast, plain = both(data)
    assert fast == plain


def test_nothing_is_an_empty_body() -> None:
    assert FastJSONRenderer().render(None) == b""
