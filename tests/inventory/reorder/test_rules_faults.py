"""What makes advice impossible, each an error of its own."""

from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.reorder.errors import (
    LeadTimeNegativeError,
    LeadTimeUnknownError,
    LeadTimeZeroError,
    NoAdviceError,
    NoUseHistoryError,
    ServiceLevelOutsideError,
    UsedOnceError,
    no_advice,
)
from inventory.reorder.rules import Fault, ReorderInputs, advise, first_fault
from shopfloor.errors import InvalidInputError
from tests.inventory.reorder.test_rules import HOOKS, days


@pytest.mark.parametrize(
    ("inputs", "expected"),
    [
        (replace(HOOKS, service_level=Decimal("0.5")), ServiceLevelOutsideError),
        (replace(HOOKS, service_level=Decimal("0.99991")), ServiceLevelOutsideError),
        (replace(HOOKS, service_level=Decimal(95)), ServiceLevelOutsideError),
        (replace(HOOKS, use_base_by_day=days()), NoUseHistoryError),
        (replace(HOOKS, use_base_by_day=days(0, 40, 0)), UsedOnceError),
        (replace(HOOKS, lead_times_days=(), lead_time_quoted_days=None), LeadTimeUnknownError),
        (replace(HOOKS, lead_times_days=(30, -1)), LeadTimeNegativeError),
        (replace(HOOKS, lead_times_days=(0, 0)), LeadTimeZeroError),
        (replace(HOOKS, lead_times_days=(), lead_time_quoted_days=0), LeadTimeZeroError),
    ],
)
def test_what_makes_advice_impossible_is_an_error_of_its_own(
    inputs: ReorderInputs, expected: type[NoAdviceError]
) -> None:
    fault = first_fault(inputs)
    assert fault is not None
    error = no_advice(fault, item="HOOK-2")
    assert type(error) is expected
    assert isinstance(error, InvalidInputError)
    assert (error.status, error.code, error.facts) == (422, fault.value, {"item": "HOOK-2"})
    assert error.detail == expected.advice


@pytest.mark.parametrize("fault", list(Fault))
def test_every_fault_has_its_error(fault: Fault) -> None:
    assert no_advice(fault).code == fault.value


@pytest.mark.parametrize(
    "inputs",
    [
        replace(HOOKS, service_level=Decimal("0.50001")),
        replace(HOOKS, service_level=Decimal("0.9999")),
        replace(HOOKS, use_base_by_day=days(0)),
        replace(HOOKS, use_base_by_day=days(1, 0, 1)),
        replace(HOOKS, lead_times_days=(0, 1)),
        replace(HOOKS, lead_times_days=(), lead_time_quoted_days=1),
    ],
)
def test_the_last_input_that_passes_gets_advice(inputs: ReorderInputs) -> None:
    assert first_fault(inputs) is None
    assert advise(inputs).suggested_base >= 0


def test_advice_on_a_faulty_input_is_our_own_mistake() -> None:
    with pytest.raises(AssertionError):
        advise(replace(HOOKS, use_base_by_day=days()))
