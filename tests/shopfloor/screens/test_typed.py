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


class HeadingShape(serializers.Serializer[Any]):
    """A text that must be said and may be empty."""

    column = serializers.CharField(allow_blank=True)


class LengthShape(serializers.Serializer[Any]):
    """A unit that is none of an amount."""

    unit = serializers.ChoiceField(choices=["mm", "in"], default="mm")


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
    stands_in = CodeField(allow_null=True)
    replace = serializers.DictField(child=CodeField(), required=False)
    purpose = serializers.ChoiceField(choices=["sale", "sample"], default="sale")


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
        "stands_in": None,
        "lines": [{"lot": "L-1", "found": {"amount": "2.50", "unit": "kg"}}, {"lot": "L-2"}],
    }


def test_a_box_that_is_not_ticked_says_so() -> None:
    assert body_of(PaperShape(), typed("is_active=false&stands_in=B-1")) == {
        "is_active": False,
        "stands_in": "B-1",
    }


def test_what_must_be_said_and_may_be_nothing_is_nothing_where_it_was_left_empty() -> None:
    assert body_of(PaperShape(), typed("stands_in=")) == {"stands_in": None}
    assert body_of(HeadingShape(), typed("column=")) == {"column": ""}


def test_a_unit_without_an_amount_field_is_said_for_itself() -> None:
    assert body_of(LengthShape(), typed("unit=in")) == {"unit": "in"}


def test_pairs_are_read_line_by_line() -> None:
    form = "stands_in=B-1&replace=PAINT-RED+PAINT-BLUE%0D%0A%0D%0AEYE-S++EYE-L%0AHOOK"
    assert body_of(PaperShape(), typed(form))["replace"] == {
        "PAINT-RED": "PAINT-BLUE",
        "EYE-S": "EYE-L",
        "HOOK": "",
    }


def test_a_moment_is_meant_in_the_shops_zone() -> None:
    body = body_of(PaperShape(), typed("at=2026-07-01T08:30&stands_in=B-1"))
    assert body["at"] == "2026-07-01T08:30:00-05:00"


def test_what_cannot_be_read_goes_on_as_it_was_typed_for_the_api_to_refuse() -> None:
    body = body_of(PaperShape(), typed("at=tomorrow&pieces=a+dozen"))
    assert (body["at"], body["pieces"]) == ("tomorrow", "a dozen")


def test_a_change_sends_what_differs_and_empties_what_was_emptied() -> None:
    was = {"pieces": 12, "note": "old", "place": "P-1", "is_active": True, "boxes": ["B-1"]}
    was["stands_in"] = None
    form = "pieces=12&note=&place=&is_active=false&boxes=B-1"
    assert changed_of(PaperShape(), typed(form), was) == {
        "note": "",
        "place": None,
        "is_active": False,
    }


def test_empty_rows_are_dropped_before_problems_find_their_row() -> None:
    assert compact(typed("lines.0.lot=&lines.3.lot=L-1")) == {"lines": [{"lot": "L-1"}]}


def by_name(made: list[Input]) -> dict[str, Input]:
    flat = [
        each
        for top in made
        for each in [top, *top.inner, *(i for row in top.rows for i in (*row.now, *row.later))]
    ]
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
        "stands_in": "text",
        "replace": "pairs",
        "purpose": "choice",
        "lines.0.lot": "text",
        "lines.0.found.amount": "amount",
    }
    assert made["lines.0.lot"].look == "lots"
    assert made["is_active"].value is True
    assert made["purpose"].value == "sale"


def test_a_form_may_differ_from_its_shape() -> None:
    look = Look(
        rows=2,
        later=["lines.found.amount"],
        looks={"stands_in": "boxes"},
        choices={"note": [("a", "first"), ("b", "second")]},
    )
    made = by_name(inputs_of(PaperShape(), {"replace": {"OLD": "NEW"}}, {}, look))
    assert made["stands_in"].look == "boxes"
    assert (made["note"].kind, made["note"].choices[1]) == ("choice", ("b", "second"))
    assert made["replace"].value == "OLD NEW"
    first, _ = made["lines"].rows
    assert [[each.name for each in part] for part in (first.now, first.later)] == [
        ["lines.0.lot"],
        ["lines.0.found.amount"],
    ]
    assert not first.is_more_open


def test_what_is_wrong_behind_more_opens_it() -> None:
    wrong = {"lines": {"0": {"found": {"amount": ["Too much."]}}}}
    values = {"lines": [{"lot": "L-1"}]}
    look = Look(later=["lines.found.amount"])
    assert by_name(inputs_of(PaperShape(), values, wrong, look))["lines"].rows[0].is_more_open


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
