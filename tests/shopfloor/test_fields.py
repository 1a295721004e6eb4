"""Shared fields: the last value that passes, the first that does not."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from shopfloor.fields import (
    Amount,
    AmountSerializer,
    AtField,
    CodeField,
    DayField,
    NumberField,
    OptionalAmountFields,
    PiecesField,
    SignedAmountSerializer,
)


@pytest.mark.parametrize(("sent", "read"), [(0, 0), (10**9, 10**9), ("12", 12), ("0", 0)])
def test_whole_pieces_are_read(sent: Any, read: int) -> None:
    assert PiecesField().run_validation(sent) == read


@pytest.mark.parametrize(
    "sent", [-1, 10**9 + 1, True, False, 3.0, 2.5, "3.0", "1e3", "-1", " 1", "٣", "", None, [], {}]
)
def test_what_is_not_whole_pieces_is_refused(sent: Any) -> None:
    with pytest.raises(ValidationError):
        PiecesField().run_validation(sent)


# The first three are the examples of RFC 3339, section 5.8.
@pytest.mark.parametrize(
    ("sent", "read"),
    [
        ("2026-04-12T23:20:50.52Z", datetime(2026, 4, 12, 23, 20, 50, 520000, tzinfo=UTC)),
        ("2026-12-19T16:39:57-08:00", datetime(2026, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("2037-01-01T12:00:27.87+00:20", datetime(2037, 1, 1, 11, 40, 27, 870000, tzinfo=UTC)),
        ("2000-01-01T00:00:00z", datetime(2000, 1, 1, tzinfo=UTC)),
        ("2099-12-31t23:59:59Z", datetime(2099, 12, 31, 23, 59, 59, tzinfo=UTC)),
    ],
)
def test_a_moment_with_its_offset_is_read_in_utc(sent: str, read: datetime) -> None:
    moment = AtField().run_validation(sent)
    assert (moment, moment.tzinfo) == (read, UTC)


@pytest.mark.parametrize(
    "sent",
    [
        "2026-05-01T14:30:00",
        "2026-05-01",
        "2026-05-01 14:30:00Z",
        "2026-02-30T00:00:00Z",
        "2026-05-01T24:00:00Z",
        "2026-05-01T14:30:00+25:00",
        "1999-12-31T23:59:59Z",
        "2100-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",
        1777645800,
        None,
    ],
)
def test_a_moment_without_offset_or_beyond_the_years_is_refused(sent: Any) -> None:
    with pytest.raises(ValidationError):
        AtField().run_validation(sent)


def test_a_moment_is_written_in_utc() -> None:
    moment = datetime.fromisoformat("2026-05-01T09:30:00-05:00")
    assert AtField().to_representation(moment) == "2026-05-01T14:30:00Z"


@pytest.mark.parametrize("sent", ["2000-01-01", "2024-02-29", "2099-12-31"])
def test_a_day_is_read(sent: str) -> None:
    assert DayField().run_validation(sent) == date.fromisoformat(sent)


@pytest.mark.parametrize(
    "sent",
    [
        "1999-12-31",
        "2100-01-01",
        "0001-01-01",
        "9999-12-31",
        "2026-02-29",
        "2026-1-5",
        "20260105",
        "2026-W01-1",
        "2026-03-٢٣",
        " 2026-01-05",
        "2026-01-05T00:00:00Z",
        20260105,
        None,
    ],
)
def test_a_day_written_otherwise_or_beyond_the_years_is_refused(sent: Any) -> None:
    with pytest.raises(ValidationError):
        DayField().run_validation(sent)


def test_some_days_may_lie_further_on() -> None:
    assert DayField(year_max=2199).run_validation("2199-12-31") == date(2199, 12, 31)
    with pytest.raises(ValidationError):
        DayField(year_max=2199).run_validation("2200-01-01")


@pytest.mark.parametrize(
    ("sent", "read"), [("l-7.1", "L-7.1"), (" A_b ", "A_B"), ("9" * 60, "9" * 60)]
)
def test_a_code_is_read_in_capitals(sent: str, read: str) -> None:
    assert CodeField().run_validation(sent) == read


@pytest.mark.parametrize(
    "sent", ["", ".a", "a b", "a/b", "ß", "é", "a\x00b", "9" * 61, 2.5, True, None]
)
def test_what_is_no_code_is_refused(sent: Any) -> None:
    with pytest.raises(ValidationError):
        CodeField().run_validation(sent)


def test_an_amount_is_read_exactly() -> None:
    read = AmountSerializer().run_validation({"amount": "2.50", "unit": "kg"})
    assert read == Amount(Decimal("2.5"), "kg")
    assert AmountSerializer(read).data == {"amount": "2.50", "unit": "kg"}


@pytest.mark.parametrize("amount", ["-1", 2.5, "1,5", "NaN", "1e300", "", True, None])
def test_an_amount_that_is_none_is_refused(amount: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        AmountSerializer().run_validation({"amount": amount, "unit": "kg"})
    assert set(refused.value.detail) == {"amount"}


@pytest.mark.parametrize("unit", ["stone", "", None, 1, "KG"])
def test_a_unit_that_is_none_is_refused(unit: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        AmountSerializer().run_validation({"amount": "1", "unit": unit})
    assert set(refused.value.detail) == {"unit"}


def test_an_amount_beside_other_fields_is_whole_or_not_there() -> None:
    both = OptionalAmountFields().run_validation({"amount": "2.5", "unit": "kg"})
    assert both == {"quantity": Amount(Decimal("2.5"), "kg")}
    assert OptionalAmountFields().run_validation({}) == {}


@pytest.mark.parametrize("sent", [{"amount": "1"}, {"unit": "kg"}])
def test_half_an_amount_beside_other_fields_is_refused(sent: Any) -> None:
    with pytest.raises(ValidationError):
        OptionalAmountFields().run_validation(sent)


def test_an_amount_below_zero_is_read_where_it_can_be_meant() -> None:
    read = SignedAmountSerializer().run_validation({"amount": "-1.5", "unit": "kg"})
    assert read == Amount(Decimal("-1.5"), "kg")


def test_a_whole_json_number_is_exact_and_taken() -> None:
    assert NumberField().run_validation(3) == Decimal(3)


def test_a_number_is_written_without_an_exponent() -> None:
    assert NumberField().to_representation(Decimal("1E+3")) == "1000"
