"""What is read of a body or a query: only text that every database, paper and sheet can take."""

from __future__ import annotations

from typing import Any

import pytest
from django.http import QueryDict
from rest_framework import serializers

from shopfloor.doors.body import validated
from shopfloor.errors import InvalidInputError
from shopfloor.fields import AmountSerializer, CodeField, PiecesField


class LineSerializer(serializers.Serializer[Any]):
    """A line with a text."""

    lot = CodeField()
    note = serializers.CharField(required=False, max_length=20)
    pieces = PiecesField(required=False)


class TextsSerializer(serializers.Serializer[Any]):
    """Texts at every depth."""

    name = serializers.CharField(required=False)
    kind = serializers.ChoiceField(choices=["shelf", "bench"], required=False)
    tags = serializers.ListField(child=serializers.CharField(), required=False)
    replace = serializers.DictField(child=serializers.CharField(), required=False)
    lines = LineSerializer(many=True, required=False)


def refused(body: Any) -> Any:
    with pytest.raises(InvalidInputError) as error:
        validated(TextsSerializer, body)
    return error.value.facts["fields"]


@pytest.mark.parametrize("text", ["two\nlines", "tab\there", "crlf\r\nhere", "émigré", "½ 寸 🎣"])
def test_line_ends_and_any_script_are_text(text: str) -> None:
    assert validated(TextsSerializer, {"name": text}) == {"name": text}


@pytest.mark.parametrize("mark", ["\x00", "\x07", "\x0b", "\x1f", "\x7f", "\x85", "\x9f", "\ud800"])
def test_control_characters_are_refused_wherever_they_stand(mark: str) -> None:
    dirty = f"a{mark}b"
    assert set(refused({"name": dirty})) == {"name"}
    assert set(refused({"tags": ["good", dirty]})["tags"]) == {"1"}
    assert set(refused({"replace": {"A": dirty}})["replace"]) == {"A"}
    assert set(refused({"replace": {dirty: "A"}})["replace"]) == {dirty}
    assert set(refused({"lines": [{"lot": "L-1", "note": dirty}]})["lines"]["0"]) == {"note"}


def test_nothing_of_one_body_meets_the_next() -> None:
    first = validated(TextsSerializer, {"name": "one", "tags": ["a"]})
    assert set(refused({"kind": "roof", "tags": "none"})) == {"kind", "tags"}
    assert validated(TextsSerializer, {"kind": "shelf"}) == {"kind": "shelf"}
    assert refused({"name": ["no text"]}).keys() == {"name"}
    assert first == {"name": "one", "tags": ["a"]}


def test_a_control_character_in_an_unknown_field_is_refused_too() -> None:
    assert set(refused({"naem": "a\x07b"})) == {"naem"}


@pytest.mark.parametrize("number", [12, 1.5, -1, 10**30, 1e300])
def test_a_number_is_no_text(number: float) -> None:
    assert refused({"name": number}) == {"name": ["Write it as text, in quotes."]}
    assert set(refused({"tags": [number]})["tags"]) == {"0"}
    assert set(refused({"replace": {"A": number}})["replace"]) == {"A"}


def test_whole_pieces_may_still_be_a_number() -> None:
    body = {"lines": [{"lot": "L-1", "pieces": 3}]}
    assert validated(TextsSerializer, body)["lines"] == [{"lot": "L-1", "pieces": 3}]


def test_all_that_is_wrong_with_one_line_is_named_together() -> None:
    line = {"lot": "a b", "note": "a\x07b", "pieces": -1, "color": "red"}
    assert set(refused({"lines": [line]})["lines"]["0"]) == {"lot", "note", "pieces", "color"}


def test_a_form_sends_texts_alone_and_they_are_read_as_strictly() -> None:
    assert validated(TextsSerializer, QueryDict("name=12")) == {"name": "12"}
    assert set(refused(QueryDict("name=a%07b"))) == {"name"}


class PaintSerializer(serializers.Serializer[Any]):
    """Choices alone, in a list and within lines."""

    finish = serializers.ChoiceField(choices=["gloss", "matte"])
    coats = serializers.ListField(child=serializers.ChoiceField(choices=[1, 2]))
    lines = TextsSerializer(many=True, required=False)
    unit = AmountSerializer(required=False)


def test_a_choice_that_there_is_not_is_told_those_that_there_are() -> None:
    with pytest.raises(InvalidInputError) as refused:
        validated(
            PaintSerializer,
            {"finish": "shiny", "coats": [1, 3], "unit": {"amount": "1", "unit": "stone"}},
        )
    fields: Any = refused.value.facts["fields"]
    assert fields["finish"] == ['"shiny" is not a valid choice. Use one of: gloss, matte.']
    assert fields["coats"] == {"1": ['"3" is not a valid choice. Use one of: 1, 2.']}
    assert fields["unit"]["unit"][0].count("Use one of") == 1
