"""How often somebody may try what could be guessed; sign-in itself has `shopfloor/lockout.py`."""

from __future__ import annotations

from rest_framework.throttling import UserRateThrottle


class PasswordTries(UserRateThrottle):
    """Changes of one's own password, right or wrong; counted by each process of the server."""

    scope = "password"
    rate = "20/hour"
