"""When a sign-in is refused without a look at the password: three limits over a quarter of an hour.

Ten wrong ones for one name from one network address close that pair. So many for one name from
anywhere, or from one address for any names, close the name or the address, but only for pairs that
were no success lately: whoever guesses elsewhere, or beside them, does not shut out a person where
they usually sign in.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_username
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Q, Sum
from django.http import HttpRequest

from shopfloor.selectors import has_signed_in_from

OF_NAME = 15  # with the pair's ten: at most 100 an hour, ASVS 4.0 2.2.1 (from memory)
OF_ADDRESS = 50
KNOWN_FOR = timedelta(days=30)


def typed_name(request: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """The name as it is counted: `Olga` and `olga` are one person."""
    return str((credentials or request.POST).get("username") or "").lower()


class Lockout(AxesDatabaseHandler):  # type: ignore[misc]
    """Counts as the module says; what is counted is forgotten after a quarter of an hour."""

    def get_failures(self, request: Any, credentials: dict[str, Any] | None = None) -> int:
        """Wrong ones of the pair, or as many as close it where another limit is reached."""
        of_pair: int = super().get_failures(request, credentials)
        limit: int = settings.AXES_FAILURE_LIMIT
        if of_pair >= limit:
            return of_pair
        name, address = get_client_username(request, credentials), request.axes_ip_address
        recent = AccessAttempt.objects.filter(attempt_time__gte=get_cool_off_threshold(request))
        wrong = recent.aggregate(
            of_name=Sum("failures_since_start", filter=Q(username=name), default=0),
            of_address=Sum("failures_since_start", filter=Q(ip_address=address), default=0),
        )
        if wrong["of_name"] < OF_NAME and wrong["of_address"] < OF_ADDRESS:
            return of_pair
        since = request.axes_attempt_time - KNOWN_FOR
        is_known = has_signed_in_from(username=name, address=address, since=since)
        return of_pair if is_known else limit
