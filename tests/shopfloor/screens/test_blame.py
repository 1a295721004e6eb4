"""A refusal without fields is wrong at the fields whose values stand in its facts."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import override_settings
from rest_framework import serializers

from shopfloor.errors import ConflictError, InvalidInputError, NotAllowedError, NotFoundError
from shopfloor.fields import AmountFields, AtField, CodeField
from shopfloor.screens.blame import blamed
from shopfloor.screens.inputs import Look, inputs_of


class RowShape(AmountFields):
    """An amount of a lot."""

    lot = CodeField()


class SlipShape(AmountFields):
    """What a form may ask for."""

    at = AtField(required=False)
    customer = CodeField(required=False)
    note = serializers.CharField(required=False)
    parts = serializers.ListField(child=CodeField(), required=False)
    rows = RowShape(many=True, required=False)


def wrong(typed: dict[str, Any], refused: Any) -> Any:
    return blamed(inputs_of(SlipShape(), typed, {}, Look()), refused)


@override_settings(SHOP_TIME_ZONE="America/Chicago")
def test_a_moment_is_found_whatever_its_zone() -> None:
    refused = InvalidInputError("Not yet.", at="2027-12-24T16:00:00+00:00")
    assert wrong({"at": "2027-12-24T10:00"}, refused) == {"at": ["Not yet."]}
    assert wrong({"at": "2027-12-24T16:00"}, refused) == {}


def test_one_unknown_code_among_several_is_found() -> None:
    refused = NotFoundError("No such part.", parts=["P-9"])
    assert wrong({"parts": "p-1\np-9"}, refused) == {"parts": ["No such part."]}
    assert wrong({"parts": "p-1\np-90"}, refused) == {}


def test_the_field_of_the_same_name_is_meant_before_others_that_hold_the_code() -> None:
    refused = ConflictError("Another's.", customer="ACE")
    assert wrong({"customer": "ace", "parts": "ACE"}, refused) == {"customer": ["Another's."]}
    assert wrong({"customer": "ACM", "parts": "ACE"}, refused) == {"parts": ["Another's."]}
    assert wrong({"note": "ACE"}, refused) == {}


def test_every_amount_in_another_unit_than_can_be_meant_is_wrong() -> None:
    refused = InvalidInputError("Another.", source="count", units=["kg", "g"])
    rows = [{"amount": "5", "unit": "kg"}, {"amount": "5", "unit": "each"}, {"unit": "each"}]
    assert wrong({"rows": rows}, refused) == {"rows": {"1": {"amount": ["Another."]}}}


def test_rows_are_told_apart() -> None:
    rows = [{"lot": "L-1"}, {"lot": "L-2"}, {"lot": "L-1"}]
    refused = InvalidInputError("Twice.", lots=["L-1"])
    twice = {"lot": ["Twice."]}
    assert wrong({"rows": rows}, refused) == {"rows": {"0": twice, "2": twice}}


def test_of_a_lot_that_holds_too_little_the_amount_is_wrong() -> None:
    short = {"lot": "L-2", "wanted": {"amount": "5", "unit": "kg"}}
    refused = ConflictError("Too little.", lots=[short])
    rows = [{"lot": "L-1", "amount": "5"}, {"lot": "L-2", "amount": "5000"}]
    said = {"amount": ["Too little."]}
    assert wrong({"rows": rows}, refused) == {"rows": {"1": said}}
    assert wrong({"amount": "5000"}, refused) == said


def test_a_number_is_found_however_it_is_written() -> None:
    refused = InvalidInputError("Whole pieces.", amount="1.5", unit="each")
    assert wrong({"amount": "1.50", "note": "1.5"}, refused) == {"amount": ["Whole pieces."]}


@pytest.mark.parametrize(
    "refused", [NotAllowedError("Not you.", parts=["X-1"]), ConflictError("Closed.", pieces=5)]
)
def test_what_names_no_field_stands_above_the_form(refused: Any) -> None:
    assert wrong({"parts": "X-1", "customer": "5"}, refused) == {}
