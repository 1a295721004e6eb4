"""What the doors of runs read: exact amounts, days people mean, codes that can be printed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from batches.runs.api.shapes import EntrySerializer, PlanSerializer, ScrapReasonSerializer
from shopfloor.doors.body import validated
from shopfloor.errors import InvalidInputError
from shopfloor.fields import Amount

PLAN: dict[str, Any] = {"item": "HALF-L", "pieces": 100}


def refused(shape: Any, body: dict[str, Any]) -> Any:
    with pytest.raises(InvalidInputError) as error:
        validated(shape, body)
    return error.value.facts["fields"]


def test_a_plan_is_read_whole() -> None:
    body = {
        **PLAN,
        "planned_on": "2026-05-01",
        "revision": 2,
        "code": "run-9",
        "note": "two\nlines",
    }
    read = validated(PlanSerializer, body)
    assert (read["planned_on"].isoformat(), read["revision"]) == ("2026-05-01", 2)
    assert (read["code"], read["pieces"]) == ("RUN-9", 100)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("planned_on", "0001-01-01"),
        ("planned_on", "9999-12-31"),
        ("planned_on", "20300101"),
        ("revision", "٣"),
        ("revision", 1.0),
        ("revision", 10**6 + 1),
        ("code", "run 9/ü"),
        ("code", "R" * 25),
        ("note", "a\x07b"),
    ],
)
def test_what_cannot_be_planned_is_named(name: str, value: Any) -> None:
    assert set(refused(PlanSerializer, {**PLAN, name: value})) == {name}


@pytest.mark.parametrize(
    "quantity",
    [{}, {"pieces": 1, "amount": "1", "unit": "g"}, {"amount": "1"}, {"pieces": 1, "unit": "g"}],
)
def test_a_plan_is_for_pieces_or_for_an_amount(quantity: dict[str, Any]) -> None:
    assert set(refused(PlanSerializer, {"item": "GLUE", **quantity})) == {"body"}


def test_an_entry_reads_amounts_exactly() -> None:
    weighed = {"amount": "0.10", "unit": "kg"}
    body = {
        "good": [{"pieces": 3}],
        "lots": [{"lot": "L-1", **weighed}, {"lot": "L-2"}],
        "by_products": [{"item": "regrind", **weighed}],
        "minutes": 12,
    }
    read = validated(EntrySerializer, body)
    exact = Amount(Decimal("0.1"), "kg")
    assert read["lots"] == [{"lot": "L-1", "quantity": exact}, {"lot": "L-2"}]
    assert read["by_products"] == [{"item": "REGRIND", "quantity": exact}]
    assert read["minutes"] == 12


@pytest.mark.parametrize("amount", [0.1, "-1", "1e30", "NaN", "٢٣", ""])
@pytest.mark.parametrize("where", ["lots", "by_products"])
def test_an_amount_that_is_none_is_named(where: str, amount: Any) -> None:
    row = {"lot": "L-1"} if where == "lots" else {"item": "REGRIND"}
    body = {"good": [{"pieces": 1}], where: [{**row, "amount": amount, "unit": "kg"}]}
    assert set(refused(EntrySerializer, body)[where]["0"]) == {"amount"}


@pytest.mark.parametrize("minutes", ["٢٣", 1.0, 12.5, -1, 100_001, True])
def test_minutes_are_whole(minutes: Any) -> None:
    assert set(refused(EntrySerializer, {"minutes": minutes})) == {"minutes"}


@pytest.mark.parametrize("code", ["a b", "ß", "a/b", "S" * 25, 12])
def test_a_scrap_reason_has_a_code_that_can_be_printed(code: Any) -> None:
    assert set(refused(ScrapReasonSerializer, {"code": code, "name": "Short shot"})) == {"code"}
