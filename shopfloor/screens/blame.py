"""Which fields of a form a refusal speaks of: those whose values stand in its facts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from typing import Any, Final, NamedTuple

from shopfloor.days import shop_zone
from shopfloor.errors import NotAllowedError, NotFoundError, ShopError
from shopfloor.screens.inputs import Input

_CODE_KINDS: Final = frozenset({"text", "codes", "scan"})


class _Told(NamedTuple):
    """One value of the facts: what it is called, and whether too much was wanted of it."""

    name: str
    text: str
    is_short: bool = False


def blamed(made: Sequence[Input], refused: ShopError) -> Mapping[str, Any]:
    """What is wrong, by field as the body nests it; nothing where no field can be told.

    A field is meant whose value stands in the facts under its own name; else one that holds a
    code of the facts. Of a lot that holds too little the amount is meant, and where the facts have
    the units that can be meant, every amount in another.
    """
    fields = refused.facts.get("fields")
    if isinstance(fields, Mapping):
        return fields
    if isinstance(refused, NotAllowedError):
        return {}
    every, told = list(_flat(made)), list(_told(refused.facts))
    if units := refused.facts.get("units"):
        names = [each.name for each in every if _is_in_another(each, units)]
        return _nested(names, refused.detail)
    is_unknown = isinstance(refused, NotFoundError)
    own = [(each, of) for each in every for of in told if _is_kin(each.name, of.name)]
    codes = [
        (each, of)
        for each in every
        for of in told
        if each.kind in _CODE_KINDS and (is_unknown or not of.text.isdecimal())
    ]
    found = [pair for pair in own if _holds(*pair)] or [pair for pair in codes if _holds(*pair)]
    names = [_amount_beside(every, each) if of.is_short else each.name for each, of in found]
    if not names and any(of.is_short for of in told):  # the lot stands in the address
        names = [each.name for each in every if each.kind == "amount" and each.value]
    return _nested(names, refused.detail)


def _flat(made: Iterable[Input]) -> Iterator[Input]:
    for each in made:
        if each.kind == "group":
            yield from _flat(each.inner)
        elif each.kind == "rows":
            for row in each.rows:
                yield from _flat([*row.now, *row.later])
        else:
            yield each


def _told(value: Any, name: str = "", *, is_short: bool = False) -> Iterator[_Told]:
    if isinstance(value, Mapping):
        if "lot" in value and "wanted" in value:  # the amounts beside it are the books', not typed
            yield from _told(value["lot"], "lot", is_short=True)
            return
        for inner, each in value.items():
            yield from _told(each, str(inner))
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _told(each, name, is_short=is_short)
    elif value not in (None, ""):
        yield _Told(name, str(value).strip().upper(), is_short)


def _is_in_another(field: Input, units: Any) -> bool:
    """Whether it is an amount in none of the units; pieces are one."""
    unit = field.unit if field.kind == "amount" else "each" if _is_pieces(field) else ""
    return bool(unit and str(field.value).strip()) and unit not in units


def _is_pieces(field: Input) -> bool:
    return field.kind == "number" and field.name.rpartition(".")[2] == "pieces"


def _is_kin(field: str, fact: str) -> bool:
    """Whether a field has a fact's name, or its plural."""
    own = field.rpartition(".")[2]
    names = {own, own.removesuffix("_code"), own.removesuffix("s")}
    return bool(names & {fact, fact.removesuffix("s"), fact.removesuffix("es")})


def _holds(field: Input, told: _Told) -> bool:
    text = str(field.value).strip().upper()
    if not text or field.kind in {"check", "many"}:
        return False
    if field.kind == "codes":
        return told.text in re.split(r"[\s,]+", text)
    if field.kind == "moment":
        return _moment(text, shop_zone()) == _moment(told.text, UTC)
    return text == told.text or _is_same_number(text, told.text)


def _moment(text: str, zone: Any) -> datetime | None:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo else at.replace(tzinfo=zone)


def _is_same_number(one: str, other: str) -> bool:
    try:
        return Decimal(one) == Decimal(other)
    except InvalidOperation:
        return False


def _amount_beside(every: Sequence[Input], field: Input) -> str:
    """The amount in the same row; the field itself where there is none."""
    row = field.name.rpartition(".")[0]
    amounts = (each.name for each in every if each.kind == "amount" or _is_pieces(each))
    return next((name for name in amounts if row and name.startswith(f"{row}.")), field.name)


def _nested(names: Iterable[str], words: str) -> dict[str, Any]:
    wrong: dict[str, Any] = {}
    for name in names:
        *path, last = name.split(".")
        node = wrong
        for part in path:
            node = node.setdefault(part, {})
        node[last] = [words]
    return wrong
