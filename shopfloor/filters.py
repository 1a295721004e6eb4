"""Filters of the lists of people, tokens, edits and ways in."""

from __future__ import annotations

import django_filters
from django import forms

from shopfloor.models import AccessEvent, AccessKind, Change, Token, User
from shopfloor.nouns import nouns
from shopfloor.roles import Role


class PersonFilter(django_filters.FilterSet):
    """By role, and whether they may sign in."""

    role = django_filters.ChoiceFilter(choices=Role.choices)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = User
        fields = ["role", "is_active"]


class OwnTokenFilter(django_filters.FilterSet):
    """By whether revoked."""

    is_revoked = django_filters.BooleanFilter(
        field_name="revoked_at", lookup_expr="isnull", exclude=True
    )

    class Meta:
        model = Token
        fields = ["is_revoked"]


class TokenFilter(OwnTokenFilter):
    """By person, and whether revoked."""

    username = django_filters.CharFilter(field_name="user__username", max_length=40)

    class Meta:
        model = Token
        fields = ["username", "is_revoked"]


def _tables() -> list[tuple[str, str]]:
    return sorted(nouns().items(), key=lambda table: table[1])


class ChangeFilter(django_filters.FilterSet):
    """By table, row, who made the edit, and when."""

    table = django_filters.ChoiceFilter(choices=_tables)
    row_code = django_filters.CharFilter(max_length=80)
    by = django_filters.CharFilter(field_name="by__username", max_length=40)
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Change
        fields = ["table", "row_code", "by", "at"]


class NetworkAddressFilter(django_filters.CharFilter):
    """An IPv4 or IPv6 address: PostgreSQL compares nothing else with one."""

    field_class = forms.GenericIPAddressField


class AccessFilter(django_filters.FilterSet):
    """By what happened, to whose way in, from where, and when."""

    kind = django_filters.ChoiceFilter(choices=AccessKind.choices)
    username = django_filters.CharFilter(field_name="person__username", max_length=40)
    address = NetworkAddressFilter()
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = AccessEvent
        fields = ["kind", "username", "address", "at"]
