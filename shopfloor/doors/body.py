"""What a caller sent, read strictly: valid JSON only, known fields only, plain text only."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from threading import local
from typing import IO, Any, cast

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import QueryDict
from rest_framework import serializers
from rest_framework.exceptions import ParseError, ValidationError
from rest_framework.parsers import JSONParser

from shopfloor.codes.gs1.elements import FNC1
from shopfloor.errors import InvalidInputError
from shopfloor.fields import ScanField
from shopfloor.problems import field_errors, slip_words

_here = local()

_LISTS = (serializers.ListSerializer, serializers.ListField)

# PostgreSQL keeps no NUL, a spreadsheet none of the others, UTF-8 no half of a pair; a scanner that
# is set up wrongly sends some. Tab and line ends are text.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")
_NOT_PLAIN = "Control characters cannot be kept. Leave them out."
ONE_OF = "Use one of"
_TWICE = "It stands twice. Give it once."
_NOT_TEXT = "Write it as text, in quotes."  # as a number 00712 loses its zeros, and 7E10 its letter

DEPTH_MAX = 32  # no body of ours is half as deep


class StrictJSONParser(JSONParser):
    """JSON as RFC 8259 has it: UTF-8, finite numbers, each name once, not absurdly deep."""

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """The value.

        Raises:
            ParseError: not such JSON.
            RequestDataTooBig: above `DATA_UPLOAD_MAX_MEMORY_SIZE`.
        """
        size_max = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        # The stream is read past Django's own check of the size.
        raw = stream.read(size_max + 1)
        if len(raw) > size_max:
            raise RequestDataTooBig
        try:
            value = json.loads(
                raw.decode("utf-8"),
                parse_constant=_refuse_constant,
                parse_float=_finite,
                object_pairs_hook=_each_name_once,
            )
        except RecursionError:
            raise ParseError("The body is nested too deep.") from None
        except ValueError as error:
            raise ParseError(f"The body is not valid JSON: {error}.") from error
        if _is_deeper(value, DEPTH_MAX):
            raise ParseError("The body is nested too deep.")
        return value


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"{text[:20]} is too large a number")
    return number


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return members


def _is_deeper(value: Any, depth: int) -> bool:
    if not isinstance(value, dict | list):
        return False
    inner = value.values() if isinstance(value, dict) else value
    return depth == 0 or any(_is_deeper(item, depth - 1) for item in inner)


def validated(serializer_class: type[serializers.BaseSerializer[Any]], data: Any) -> Any:
    """The data as the serializer reads them.

    Raises:
        InvalidInputError: `facts["fields"]` has the messages by field, unknown fields among them.
    """
    serializer = _made_once(serializer_class)
    serializer.initial_data = data
    problems: dict[str, Any] = {}
    try:
        if not serializer.is_valid():
            wrong = _with_choices(serializer, serializer.errors)
            problems = field_errors(ValidationError(cast("dict[str, Any]", wrong)))
        problems = _merged(problems, _named(_slips(serializer, data)))
        if problems:
            raise InvalidInputError(slip_words(problems), fields=problems)
        return serializer.validated_data
    finally:  # nothing of this body meets the next
        serializer.initial_data = None
        vars(serializer).pop("_validated_data", None)
        vars(serializer).pop("_errors", None)


def _made_once(serializer_class: type[serializers.BaseSerializer[Any]]) -> Any:
    """One serializer a class and thread: copying its fields takes longer than reading a body."""
    made: dict[Any, Any] = vars(_here).setdefault("serializers", {})
    if serializer_class not in made:
        made[serializer_class] = serializer_class()
    return made[serializer_class]


def _with_choices(field: Any, wrong: Any) -> Any:
    """The same messages at every depth; those about a choice that there is not say which are."""
    if isinstance(wrong, dict):
        inner = field.fields if isinstance(field, serializers.Serializer) else {}
        child = field.child if isinstance(field, _LISTS) else None
        return {name: _with_choices(inner.get(name, child), of) for name, of in wrong.items()}
    if isinstance(wrong, list):
        within = field.child if isinstance(field, _LISTS) else field
        return [_with_choices(within, each) for each in wrong]
    is_silent = getattr(wrong, "code", "") == "invalid_choice" and ONE_OF not in str(wrong)
    if is_silent and isinstance(field, serializers.ChoiceField):
        return f"{wrong} {one_of(field.choices)}"
    return wrong


def one_of(choices: Iterable[Any]) -> str:
    """What may be given, as a sentence."""
    return f"{ONE_OF}: {', '.join(str(choice) for choice in choices if choice != '')}."


def refuse_unclear(params: QueryDict) -> None:
    """Refuse a query that says something twice or in characters nobody can have meant.

    Raises:
        InvalidInputError: `facts["fields"]` has the messages by parameter.
    """
    twice = {name: [_TWICE] for name, values in params.lists() if len(values) > 1}
    if problems := twice | _form_slips(params):
        raise InvalidInputError(slip_words(problems), fields=problems)


def has_control_characters(text: str) -> bool:
    """Whether a text holds what cannot be kept or printed."""
    return _CONTROL.search(text) is not None


def _slips(field: Any, data: Any) -> Any:
    """What no serializer looks for, at every depth: messages, or the same by name."""
    if isinstance(data, str):
        if isinstance(field, ScanField):
            data = data.replace(FNC1, "")
        return [_NOT_PLAIN] if has_control_characters(data) else []
    if isinstance(data, QueryDict):
        return _form_slips(data)
    if isinstance(data, Mapping):
        return _object_slips(field, data)
    if isinstance(data, list):
        child = field.child if isinstance(field, _LISTS) else None
        return _found({str(at): _slips(child, item) for at, item in enumerate(data)})
    is_number = isinstance(data, int | float) and not isinstance(data, bool)
    return [_NOT_TEXT] if is_number and isinstance(field, serializers.CharField) else []


def _form_slips(form: QueryDict) -> dict[str, Any]:
    # Names are not looked at: a form also sends its token, and nests by dotted names.
    return {
        name: [_NOT_PLAIN]
        for name, values in form.lists()
        if any(has_control_characters(value) for value in values)
    }


def _object_slips(field: Any, members: Mapping[str, Any]) -> dict[str, Any]:
    """Unknown names, most often a slip of the pen, and what is wrong inside the known ones."""
    known = None
    if isinstance(field, serializers.Serializer):
        known = {name: item for name, item in field.fields.items() if not item.read_only}
    child = field.child if isinstance(field, serializers.DictField) else None
    slips: dict[str, Any] = {}
    for name, value in members.items():
        if known is not None and name not in known:
            slips[name] = [_unknown_among(known)]
        elif has_control_characters(name):
            slips[name] = [_NOT_PLAIN]
        else:
            slips[name] = _slips(child if known is None else known[name], value)
    return _found(slips)


def _unknown_among(known: Mapping[str, Any]) -> str:
    listed = f"Known here: {', '.join(known)}." if known else "None is known here."
    return f"Unknown field. {listed}"


def _found(slips: Mapping[str, Any]) -> dict[str, Any]:
    return {name: inner for name, inner in slips.items() if inner}


def _named(slips: Any) -> dict[str, Any]:
    """Those about a body that is no object stand under `body`."""
    return {"body": slips} if isinstance(slips, list) and slips else dict(slips)


def _merged(first: Mapping[str, Any], second: Mapping[str, Any]) -> dict[str, Any]:
    """Both; where both speak of one name, all that is said inside, else the second."""
    merged = dict(first)
    for name, inner in second.items():
        before = merged.get(name)
        if isinstance(before, Mapping) and isinstance(inner, Mapping):
            merged[name] = _merged(before, inner)
        else:
            merged[name] = inner
    return merged
