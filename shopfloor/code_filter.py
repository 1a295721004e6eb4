"""Filters of a list by what its rows belong to: by a code, by a person's name."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from functools import cache
from typing import Any, Self

import django_filters
from django import forms
from django.db.models import Model, QuerySet
from django.http import QueryDict

from shopfloor.fields import CODE_LENGTH_MAX


class CodeField(forms.CharField):
    """A code; upper case, however it was typed."""

    def clean(self, value: Any) -> str:
        """The code."""
        return str(super().clean(value)).upper()


class AskedCode(str):
    """A code that a list is asked for: the statement is the same whichever it is.

    Attributes:
        path: Of the field that it is compared with.
    """

    path: str

    def __new__(cls, code: str, path: str) -> Self:
        """The code, which goes to the database like any text."""
        asked = super().__new__(cls, code)
        asked.path = path
        return asked


class CodeFilter(django_filters.CharFilter):
    """By a code. One that nothing has is refused: a slip must not look like an empty shelf.

    Attributes:
        of: What has the code, where a method filters; else the path of the field says it.
    """

    field_class: type[forms.CharField] = CodeField

    def __init__(
        self, field_name: str | None = None, *, of: type[Model] | None = None, **kwargs: Any
    ) -> None:
        self.of = of
        super().__init__(field_name, max_length=CODE_LENGTH_MAX, **kwargs)

    def filter(self, qs: QuerySet[Any], value: str) -> QuerySet[Any]:
        """Those that belong to it."""
        asked = AskedCode(value, str(self.field_name)) if value else value
        found: QuerySet[Any] = super().filter(qs, asked)
        return found

    def is_known(self, text: str, *, listed: type[Model]) -> bool:
        """Whether anything has this code. One statement.

        Args:
            text: As typed.
            listed: What the list has; the path of the field begins there.
        """
        model: Any = self.of or listed
        *path, key = ["code"] if self.of else str(self.field_name).split("__")
        for step in path:
            model = model._meta.get_field(step).related_model
        named: QuerySet[Any] = model._default_manager.filter(**{key: self.field.clean(text)})
        return named.exists()


def asked_codes(filters: type[django_filters.FilterSet], query: QueryDict) -> dict[str, AskedCode]:
    """The codes of a query that rows are only compared with, by parameter.

    One that cannot be read is left out: whoever filters by it refuses it.
    """
    found: dict[str, AskedCode] = {}
    for parameter, code in _compared(filters):
        if query.get(parameter):
            with suppress(forms.ValidationError):
                if text := code.field.clean(query[parameter]):  # blanks ask for nothing
                    found[parameter] = AskedCode(text, code.field_name)
    return found


@cache
def _compared(filters: type[django_filters.FilterSet]) -> Sequence[tuple[str, Any]]:
    every: dict[str, Any] = vars(filters)["base_filters"]
    codes: list[tuple[str, Any]]
    codes = [(name, each) for name, each in every.items() if isinstance(each, CodeFilter)]
    return [(name, code) for name, code in codes if code.method is None]


class UsernameFilter(CodeFilter):
    """By a person; one whom nobody knows is refused."""

    field_class = forms.CharField
