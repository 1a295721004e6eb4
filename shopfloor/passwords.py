"""What is sent to change a password, and how often; sign-in itself has `shopfloor/lockout.py`."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.throttling import UserRateThrottle

PASSWORD_LENGTH_MAX = 128  # hashing a novel would keep the server busy


class PasswordSerializer(serializers.Serializer[Any]):
    """The new password."""

    password = serializers.CharField(max_length=PASSWORD_LENGTH_MAX, trim_whitespace=False)


class OwnPasswordSerializer(PasswordSerializer):
    """The present and the new password."""

    present = serializers.CharField(max_length=PASSWORD_LENGTH_MAX, trim_whitespace=False)


class PasswordTries(UserRateThrottle):
    """Changes of one's own password, right or wrong; counted by each process of the server."""

    scope = "password"
    rate = "20/hour"
