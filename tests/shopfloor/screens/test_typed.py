"""The API's body out of what was typed, and a form's inputs out of the API's shape."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict
from rest_framework import serializers

from shopfloor.fields import AmountSerializer, AtField, CodeField, PiecesField
from shopfloor.screens.inputs import Input, Look, inputs_of
from shopfloor.screens.typed import body_of, changed_of, compact, nested, sent


class LineShape(serializers.Serializer[Any]):
    """A line."""

    lot = CodeField()
    found = AmountSerializer(required=False)


class PaperShape(serializers.Serializer[Any]):
    """One of everything."""

    at = AtField(required=False)
    pieces = PiecesField(required=False)
    note = serializers.CharField(required=False, allow_blank=True)
    place = CodeField(required=False, allow_null=True)
    is_active = serializers.BooleanField(default=True)
    boxes = serializers.ListField(child=CodeField(), required=False)
    signs = serializers.ListField(
        child=serializers.ChoiceField(choices=[("GHS02", "flame"), ("GHS07", "mark")]),
        required=False,
    )
    lines = serializers.ListField(child=LineShape(), required=False)


def typed(query: str) -> dict[str, Any]:
    return nested(sent(QueryDict(query)))


def test_names_with_dots_and_numbers_nest_in_the_order_of_the_numbers() -> None:
    assert typed("lines.10.lot=C&lines.2.lot=B&lines.0.lot=A&note=x&csrfmiddlewaretoken=t") == {
        "lines": [{"lot": "A"}, {"lot": "B"}, {"lot": "C"}],
        "note": "x",
    }


def test_a_name_nested_absurdly_deep_is_left_out() -> None:
    assert typed(".".join(["a"] * 500) + "=x&note=y") == {"note": "y"}


def test_a_name_that_is_both_a_value_and_a_group_does_no_harm() -> None:
    assert typed("found=3&found.amount=4") == {"found": "3"}


def test_what_was_left_empty_is_left_out_and_numbers_are_numbers() -> None:
    body = body_of(
        PaperShape(),
        typed(
            "pieces=+12+&note=&place=&is_active=false&is_active=true&boxes=B-1%0AB-2%0A"
            "&signs=&signs=GHS07&lines.0.lot=&lines.0.found.amount=&lines.0.found.unit=mg"
            "&lines.1.lot=L-1&lines.1.found.amount=2.50&lines.1.found.unit=kg"
            "&lines.2.lot=L-2&lines.2.found.amount=&lines.2.found.unit=mg"
        ),
    )
    assert body == {
        "pieces": 12,
        "is_active": True,
        "boxes": ["B-1", "B-2"],
        "signs": ["GHS07"],
        "lines": [{"lot": "L-1", "found": {"amount": "2.50", "unit": "kg"}}, {"lot": "L-2"}],
    }


def test_a_box_that_is_not_ticked_says_so() -> None:
    assert body_of(PaperShape(), typed("is_active=false")) == {"is_active": False}


def test_a_moment_is_meant_in_the_shops_zone() -> None:
    assert body_of(PaperShape(), typed("at=2026-07-01T08:30")) == {
        "at": "2026-07-01T08:30:00-05:00"
    }


def test_what_cannot_be_read_goes_on_as_it_was_typed_for_the_api_to_refuse() -> None:
    assert body_of(PaperShape(), typed("at=tomorrow&pieces=a+dozen")) == {
        "at": "tomorrow",
        "pieces": "a dozen",
    }


def test_a_change_sends_what_differs_and_empties_what_was_emptied() -> None:
    was = {"pieces": 12, "note": "old", "place": "P-1", "is_active": True, "boxes": ["B-1"]}
    form = "pieces=12&note=&place=&is_active=false&boxes=B-1"
    assert changed_of(PaperShape(), typed(form), was) == {
        "note": "",
        "place": None,
        "is_active": False,
    }


def test_empty_rows_are_dropped_before_problems_find_their_row() -> None:
    assert compact(typed("lines.0.lot=&lines.3.lot=L-1")) == {"lines": [{"lot": "L-1"}]}


def by_name(made: list[Input]) -> dict[str, Input]:
    flat = [each for row in made for each in [row, *row.inner, *(i for r in row.rows for i in (*r.now, *r.later))]]
    return {each.name: each for each in flat}


def test_each_field_has_the_input_of_its_kind() -> None:
    made = by_name(inputs_of(PaperShape(), {}, {}, Look(rows=1)))
    kinds = {name: each.kind for name, each in made.items()}
    assert kinds == {
        "at": "moment",
        "pieces": "number",
        "note": "long",
        "place": "text",
        "is_active": "check",
        "boxes": "codes",
        "signs": "many",
        "lines": "rows",
        "lines.0.lot": "text",
        "lines.0.found.amount": "amount",
    }
    assert made["lines.0.lot"].look == "lots"
    assert made["is_active"].value is True


def test_what_is_wrong_stands_at_its_field_in_its_row() -> None:
    wrong = {"lines": {"1": {"lot": ["There is no lot X."], "found": {"amount": ["Too much."]}}}}
    values = {"lines": [{"lot": "L-1"}, {"lot": "X", "found": {"amount": "9", "unit": "kg"}}]}
    made = by_name(inputs_of(PaperShape(), values, wrong, Look()))
    assert made["lines.0.lot"].wrong == []
    assert made["lines.1.lot"].wrong == ["There is no lot X."]
    assert made["lines.1.found.amount"].wrong == ["Too much."]
    assert made["lines.1.found.amount"].unit == "kg"
    assert made["lines"].has_wrong


def test_a_moment_of_the_api_stands_in_the_form_as_the_shop_reads_it() -> None:
    made = by_name(inputs_of(PaperShape(), {"at": "2026-07-01T13:30:00Z"}, {}, Look()))
    assert made["at"].value == "2026-07-01T08:30"
