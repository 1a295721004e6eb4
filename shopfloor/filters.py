"""Filters of the lists of people and tokens."""

from __future__ import annotations

import django_filters

from shopfloor.models import Token, User
from shopfloor.roles import Role


class PersonFilter(django_filters.FilterSet):
    """By role, and whether they may sign in."""

    role = django_filters.ChoiceFilter(choices=Role.choices)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = User
        fields = ["role", "is_active"]


class TokenFilter(django_filters.FilterSet):
    """By person, and whether revoked."""

    username = django_filters.CharFilter(field_name="user__username", max_length=40)
    is_revoked = django_filters.BooleanFilter(
        field_name="revoked_at", lookup_expr="isnull", exclude=True
    )

    class Meta:
        model = Token
        fields = ["username", "is_revoked"]
