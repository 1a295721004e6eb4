"""What a caller sent, read strictly: valid JSON only, known fields only."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import IO, Any, cast

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import QueryDict
from rest_framework import serializers
from rest_framework.exceptions import ParseError, ValidationError
from rest_framework.parsers import JSONParser

from shopfloor.errors import InvalidInputError
from shopfloor.problems import field_errors

_LISTS = (serializers.ListSerializer, serializers.ListField)

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
    serializer = serializer_class(data=data)
    problems: dict[str, Any] = {}
    if not serializer.is_valid():
        problems = field_errors(ValidationError(cast("dict[str, Any]", serializer.errors)))
    problems |= _unknown(serializer, data)
    if problems:
        raise InvalidInputError("Some values cannot be used; the facts name them.", fields=problems)
    return serializer.validated_data


def _unknown(serializer: serializers.Field[Any, Any, Any, Any] | None, data: Any) -> dict[str, Any]:
    """Names the serializer does not know, at every depth: most often a slip of the pen."""
    if isinstance(serializer, _LISTS) and isinstance(data, list):
        found = {str(at): _unknown(serializer.child, item) for at, item in enumerate(data)}
        return {at: inner for at, inner in found.items() if inner}
    if not isinstance(serializer, serializers.Serializer) or not isinstance(data, Mapping):
        return {}
    known = {name: item for name, item in serializer.fields.items() if not item.read_only}
    if isinstance(data, QueryDict):
        return {}  # a form also sends its token, and nests by dotted names
    problems: dict[str, Any] = {
        name: [f"Unknown field. Known here: {', '.join(known)}."]
        for name in data
        if name not in known
    }
    for name in data.keys() & known.keys():
        if inner := _unknown(known[name], data[name]):
            problems[name] = inner
    return problems
