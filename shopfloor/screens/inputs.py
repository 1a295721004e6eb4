"""Inputs of a form out of a serializer of the API.

A name in a form is dotted, as in `lines.0.found.amount`: the way to the value in the body.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final

from rest_framework import serializers
from rest_framework.fields import empty

from shopfloor.days import shop_zone
from shopfloor.fields import AtField, ScanField
from shopfloor.screens.cells import REFERENCES, in_words, words
from shopfloor.screens.typed import LOCAL

ABOUT: Final = "about"
"""Of a row's values, what is known of its thing; it is shown and not sent."""
_MORE_ROWS: Final = 3
_AMOUNT = frozenset({"amount", "unit"})
_SECRET: Final = frozenset({"password", "present"})
_LONG: Final = frozenset({"note", "address", "hazard_text", "contact"})
_WORD: Final = re.compile(r"[a-z0-9.]*[a-z0-9]")


@dataclass(frozen=True, slots=True)
class Look:
    """How a form differs from what its serializer says.

    Attributes:
        labels, helps: Words by dotted name without numbers.
        first: Names that come before the others.
        leaves: Names the form does not have.
        rows: Empty rows of each list.
        more: The list that was asked to have more of them.
        later: Names behind "More" in each row of a list.
        looks: Lists that codes are looked up in, by name, where the name does not say.
        choices: What a text is chosen from, by name.
        needs: Names that must be filled though the shape lets them be empty.
    """

    labels: Mapping[str, str] = field(default_factory=dict)
    helps: Mapping[str, str] = field(default_factory=dict)
    first: Sequence[str] = ()
    leaves: Collection[str] = ()
    rows: int = 3
    more: str = ""
    later: Collection[str] = ()
    looks: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[tuple[str, str]]] = field(default_factory=dict)
    needs: Collection[str] = ()


@dataclass(frozen=True, slots=True)
class InputRow:
    """One row of a list: its inputs, those behind "More", and what is known of it."""

    now: Sequence[Input]
    later: Sequence[Input] = ()
    about: str = ""

    @property
    def is_more_open(self) -> bool:
        """Whether anything behind "More" is wrong."""
        return any(each.wrong or each.has_wrong for each in self.later)


@dataclass(frozen=True, slots=True)
class Input:
    """One input, or a group of them.

    Attributes:
        kind: text, long, secret, number, choice, many, check, day, moment, amount, codes, pairs,
            scan; or group, rows.
        look: The list its code is looked up in, if any.
        wrong: What is wrong with it.
        inner: A group's inputs.
        rows: The rows of a list, each its inputs.
    """

    name: str
    label: str
    kind: str
    value: Any = ""
    help: str = ""
    choices: Sequence[tuple[str, str]] = ()
    is_required: bool = False
    look: str = ""
    wrong: Sequence[str] = ()
    unit: str = ""
    inner: Sequence[Input] = ()
    rows: Sequence[InputRow] = ()

    @property
    def id(self) -> str:
        """Its identifier in the page."""
        return "f-" + self.name.replace(".", "-").replace("_", "-")

    @property
    def unit_name(self) -> str:
        """The name of the unit beside an amount."""
        return self.name.removesuffix("amount") + "unit"

    @property
    def is_asked_for(self) -> bool:
        """Whether the browser sends nothing without it: a row of a list may stay empty."""
        return self.is_required and _plain(self.name) == self.name

    @property
    def text(self) -> str:
        """The value as a choice has it."""
        return str(self.value)

    @property
    def has_wrong(self) -> bool:
        """Whether anything within it is wrong."""
        nested = [*self.inner, *(each for row in self.rows for each in (*row.now, *row.later))]
        return any(each.wrong or each.has_wrong for each in nested)


def inputs_of(
    shape: serializers.Serializer[Any],
    values: Mapping[str, Any],
    wrong: Mapping[str, Any],
    look: Look,
    at: str = "",
) -> list[Input]:
    """The inputs of a serializer's fields, in its order; an amount and its unit are one."""
    fields = {
        name: each
        for name, each in shape.fields.items()
        if not each.read_only and _plain(at + name) not in look.leaves
    }
    is_amount = fields.keys() >= _AMOUNT
    made = []
    for name, each in fields.items():
        if is_amount and name == "unit":
            continue
        if is_amount and name == "amount":
            made.append(_amount(at, fields, values, wrong, look))
        else:
            made.append(_input(at + name, each, values.get(name), wrong.get(name), look))
    loose = wrong.get("non_field_errors")
    if loose and made:
        made[0] = replace(made[0], wrong=[*made[0].wrong, *_said(loose)])
    return sorted(made, key=lambda each: _rank(each.name, look.first))


def _rank(name: str, first: Sequence[str]) -> int:
    plain = _plain(name)
    return first.index(plain) if plain in first else len(first)


def _amount(
    at: str,
    fields: Mapping[str, serializers.Field[Any, Any, Any, Any]],
    values: Mapping[str, Any],
    wrong: Mapping[str, Any],
    look: Look,
) -> Input:
    units: Any = fields["unit"]
    plain = _plain(at + "amount")
    return Input(
        name=at + "amount",
        label=look.labels.get(plain, words(at.rstrip(".")) if at[-2:-1].isalpha() else "Amount"),
        kind="amount",
        value=values.get("amount", ""),
        help=look.helps.get(plain, ""),
        choices=[(name, str(text)) for name, text in units.choices.items()],
        is_required=fields["amount"].required or plain in look.needs,
        wrong=[*_said(wrong.get("amount")), *_said(wrong.get("unit"))],
        unit=str(values.get("unit", "")),
    )


def _input(name: str, made_of: Any, value: Any, wrong: Any, look: Look) -> Input:
    plain = _plain(name)
    last = name.rpartition(".")[2]
    label = look.labels.get(plain, words(name))
    told = look.helps.get(plain, _new_words(in_words(str(made_of.help_text or "")), label))
    if isinstance(made_of, serializers.Serializer):
        return _group(name, label, told, made_of, value, wrong, look)
    child = getattr(made_of, "child", None)
    if isinstance(child, serializers.Serializer):
        return _rows(name, label, told, child, value, wrong, look)
    kind, choices = _kind(made_of, last)
    if plain in look.choices:
        kind, choices = "choice", look.choices[plain]
    return Input(
        name=name,
        label=label,
        kind=kind,
        value=_shown(kind, value, made_of, is_alone="." not in name),
        help=told,
        choices=choices,
        is_required=made_of.required or plain in look.needs,
        look=look.looks.get(plain, REFERENCES.get(last, "")) if kind in {"text", "codes"} else "",
        wrong=list(dict.fromkeys(_said(wrong))),  # of many codes the same is said once
    )


def _new_words(told: str, label: str) -> str:
    """A help; nothing where the label says all of it."""
    said = set(_WORD.findall(label.lower()))
    return "" if said.issuperset(_WORD.findall(told.lower())) else told


def _group(
    name: str, label: str, told: str, shape: Any, value: Any, wrong: Any, look: Look
) -> Input:
    inner_wrong = wrong if isinstance(wrong, Mapping) else {}
    values = value if isinstance(value, Mapping) else {}
    inner = inputs_of(shape, values, inner_wrong, look, f"{name}.")
    said = [] if isinstance(wrong, Mapping) else _said(wrong)
    if len(inner) == 1 and inner[0].kind == "amount":
        only = inner[0]
        return Input(
            name=only.name,
            label=label,
            kind="amount",
            value=only.value,
            help=told,
            choices=only.choices,
            is_required=shape.required or _plain(name) in look.needs,
            wrong=[*only.wrong, *said],
            unit=only.unit,
        )
    return Input(name=name, label=label, kind="group", help=told, wrong=said, inner=inner)


def _rows(
    name: str, label: str, told: str, child: Any, value: Any, wrong: Any, look: Look
) -> Input:
    given = value if isinstance(value, list) else []
    by_row = wrong if isinstance(wrong, Mapping) else {}
    is_within = "." in name  # a list in a row of a list
    empty = min(look.rows, 1) if given or is_within else look.rows
    count = len(given) + empty + (_MORE_ROWS if look.more == name else 0)
    rows = [
        _row(inputs_of(child, row, _of_row(by_row, at), look, f"{name}.{at}."), row, look)
        for at, row in enumerate([*map(_mapping, given), *({},) * (count - len(given))])
    ]
    said = [] if isinstance(wrong, Mapping) else _said(wrong)
    return Input(name=name, label=label, kind="rows", help=told, wrong=said, rows=rows)


def _row(made: Sequence[Input], row: Mapping[str, Any], look: Look) -> InputRow:
    later = [each for each in made if _plain(each.name) in look.later]
    now = [each for each in made if each not in later]
    return InputRow(now, later, str(row.get(ABOUT, "")))


def _mapping(row: Any) -> Mapping[str, Any]:
    return row if isinstance(row, Mapping) else {}


def _of_row(by_row: Mapping[Any, Any], at: int) -> Mapping[str, Any]:
    found = by_row.get(str(at), by_row.get(at, {}))
    return found if isinstance(found, Mapping) else {"non_field_errors": found}


def _kind(made_of: Any, last: str) -> tuple[str, Sequence[tuple[str, str]]]:
    child = getattr(made_of, "child", None)
    if isinstance(child, serializers.ChoiceField):
        return "many", _choices(child)
    if child is not None:
        return ("pairs" if isinstance(made_of, serializers.DictField) else "codes"), ()
    if isinstance(made_of, serializers.ChoiceField):
        return "choice", _choices(made_of)
    if last in _SECRET:
        return "secret", ()
    for kind, field_type in _KINDS:
        if isinstance(made_of, field_type):
            return kind, ()
    return ("long" if last in _LONG else "text"), ()


_KINDS: Final = (
    ("check", serializers.BooleanField),
    ("day", serializers.DateField),
    ("moment", AtField),
    ("scan", ScanField),
    ("number", serializers.IntegerField),
)


def _choices(made_of: serializers.ChoiceField) -> Sequence[tuple[str, str]]:
    return [(str(code), str(text).replace("_", " ")) for code, text in made_of.choices.items()]


def _shown(kind: str, value: Any, made_of: Any, *, is_alone: bool) -> Any:
    if kind == "check":
        default = made_of.default if made_of.default in (True, False) else False
        return default if value is None else value not in (False, "", "false")
    if value is None or kind == "secret":  # a secret is typed again rather than sent back
        return _usual(made_of) if kind == "choice" and is_alone else ""
    if kind == "many":
        return value if isinstance(value, list) else [value]
    if kind in {"codes", "pairs"}:
        return "\n".join(_lines(value))
    if kind == "moment" and isinstance(value, str) and not LOCAL.fullmatch(value):
        return _local(value)
    return value


def _usual(made_of: Any) -> str:
    """What the API takes where nothing is said; a row that nobody filled must stay empty."""
    return "" if made_of.default in (empty, None) else str(made_of.default)


def _lines(value: Any) -> list[str]:
    """Codes a line; of pairs both words."""
    if isinstance(value, Mapping):
        return [f"{old} {new}" for old, new in value.items()]
    return [str(each) for each in value] if isinstance(value, list) else [str(value)]


def _local(text: str) -> str:
    try:
        return datetime.fromisoformat(text).astimezone(shop_zone()).strftime("%Y-%m-%dT%H:%M")
    except ValueError:
        return text


def _said(wrong: Any) -> list[str]:
    """Messages, however deep they lie."""
    if not wrong:
        return []
    if isinstance(wrong, Mapping):
        return [text for inner in wrong.values() for text in _said(inner)]
    if isinstance(wrong, list | tuple):
        return [text for inner in wrong for text in _said(inner)]
    return [str(wrong)]


def _plain(name: str) -> str:
    """A dotted name without its numbers: `lines.0.item` is `lines.item`."""
    return ".".join(part for part in name.split(".") if not part.isdecimal())
