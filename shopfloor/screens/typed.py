"""The API's body out of what was typed into a form.

A name in a form is dotted, as in `lines.0.found.amount`: the way to the value in the body.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Final

from django.http import QueryDict
from rest_framework import serializers

from shopfloor.days import shop_zone
from shopfloor.doors.once import KEY_FIELD
from shopfloor.fields import AtField, ScanField

LOCAL: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?")
"""A moment as a browser types it, in the shop's zone."""
_NOT_FIELDS: Final = frozenset({KEY_FIELD, "csrfmiddlewaretoken", "more_rows", "shown"})
_WHOLE: Final = re.compile(r"\d{1,18}")
_DEPTH_MAX: Final = 8


def sent(form: QueryDict) -> dict[str, Any]:
    """The form's values; a box to tick sends "false" and, when ticked, "true" after it."""
    return {
        name: values[-1] if values[0] == "false" else values if len(values) > 1 else values[0]
        for name, values in form.lists()
    }


def nested(flat: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed, as the body nests it: numbers in a name are places in a list."""
    root: dict[str, Any] = {}
    for name, value in flat.items():
        parts = name.split(".")
        if name in _NOT_FIELDS or len(parts) > _DEPTH_MAX:
            continue
        node = root
        for part in parts[:-1]:
            inner = node.setdefault(part, {})
            if not isinstance(inner, dict):
                break
            node = inner
        else:
            node[parts[-1]] = value
    listed = _listed(root)
    assert isinstance(listed, dict)
    return listed


def _listed(node: Any) -> Any:
    if not isinstance(node, dict):
        return node
    inner = {name: _listed(value) for name, value in node.items()}
    if inner and all(name.isdecimal() for name in inner):
        return [inner[name] for name in sorted(inner, key=int)]
    return inner


def compact(typed: Mapping[str, Any]) -> dict[str, Any]:
    """The same without the empty rows, as the body had them: problems name rows by place."""
    return {
        name: [row for row in value if not _is_blank(row)] if isinstance(value, list) else value
        for name, value in typed.items()
    }


def _is_blank(value: Any) -> bool:
    if isinstance(value, Mapping):
        # A unit stands there before anybody typed.
        return all(_is_blank(inner) for name, inner in value.items() if name != "unit")
    if isinstance(value, list):
        return all(map(_is_blank, value))
    return value is None or str(value).strip() == ""


def body_of(shape: Any, typed: Mapping[str, Any]) -> dict[str, Any]:
    """The API's body: what was left empty is left out, numbers are numbers."""
    return dict(_members(shape, typed))


def _members(shape: Any, typed: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    has_amount = "amount" in shape.fields  # a unit stands beside it before anybody typed
    for name, made_of in shape.fields.items():
        if made_of.read_only or (name == "unit" and has_amount and _is_blank(typed.get("amount"))):
            continue
        if isinstance(made_of, serializers.BooleanField):
            if name in typed:
                yield name, typed[name] not in ("", "false", False)
            continue
        value = typed.get(name)
        if value is None or _is_blank(value):
            if made_of.required and made_of.allow_null:
                yield name, None
            elif made_of.required and getattr(made_of, "allow_blank", False):
                yield name, ""
            continue
        yield name, _value(made_of, value)


def _value(made_of: Any, value: Any) -> Any:
    child = getattr(made_of, "child", None)
    if isinstance(made_of, serializers.Serializer):
        return body_of(made_of, value) if isinstance(value, Mapping) else value
    if isinstance(child, serializers.Serializer):
        rows = value if isinstance(value, list) else []
        return [
            body_of(child, row) for row in rows if isinstance(row, Mapping) and not _is_blank(row)
        ]
    if child is not None:
        return _several(made_of, value)
    text = str(value) if isinstance(made_of, ScanField) else str(value).strip()
    if isinstance(made_of, serializers.IntegerField) and _WHOLE.fullmatch(text):
        return int(text)
    if isinstance(made_of, AtField) and LOCAL.fullmatch(text):
        return (
            datetime.fromisoformat(text).replace(tzinfo=shop_zone()).isoformat(timespec="seconds")
        )
    return text


def _several(made_of: Any, value: Any) -> Any:
    """Codes, or pairs of them."""
    if isinstance(made_of, serializers.DictField):
        return dict(_pairs(str(value)))
    texts = value if isinstance(value, list) else re.split(r"[\s,]+", str(value))
    return [text for text in texts if text]


def _pairs(text: str) -> Iterator[tuple[str, str]]:
    """A pair a line, its two words apart: `OLD NEW`."""
    for line in text.splitlines():
        old, _, new = line.strip().partition(" ")
        if old:
            yield old, new.strip()


def changed_of(shape: Any, typed: Mapping[str, Any], present: Mapping[str, Any]) -> dict[str, Any]:
    """The API's body of a change: what differs from the thing; emptied fields empty it."""
    new = body_of(shape, typed)
    changed = {}
    for name, made_of in shape.fields.items():
        was = present.get(name)
        if name in new:
            if _comparable(new[name]) != _comparable(was):
                changed[name] = new[name]
        elif name in typed and not _is_blank("" if was is None else was):
            changed[name] = None if made_of.allow_null else _emptied(made_of)
    return changed


def _comparable(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {
            name: _comparable(inner) for name, inner in value.items() if inner not in (None, "")
        }
    if isinstance(value, list):
        return [_comparable(inner) for inner in value]
    return value if isinstance(value, bool) else str(value)


def _emptied(made_of: Any) -> Any:
    return [] if hasattr(made_of, "child") else ""
