"""`manage.py token NAME`: a token for a person's programs, printed and nothing else."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from shopfloor.days import shop_day
from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand
from shopfloor.operations import issue_token
from shopfloor.selectors import person_named
from shopfloor.tokens import DAYS

DAYS_MAX = 3650


class Command(ShopCommand):
    """Issues a token."""

    help = "Make an API token for a person and print it. It is shown this once."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose token it is, and what uses it."""
        parser.add_argument("username", help="Sign-in name of the person.")
        parser.add_argument("--name", default="command line", help="What will use the token.")
        parser.add_argument("--days", type=int, default=DAYS, help=f"How long it works; {DAYS}.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Issue and print it."""
        if not 1 <= options["days"] <= DAYS_MAX:
            raise CommandError(f"--days is a whole number, 1 to {DAYS_MAX}.")
        try:
            person = person_named(options["username"])
            now = timezone.now()
            issued = issue_token(
                username=person.username,
                name=options["name"],
                by=person,
                at=now,
                ends_on=shop_day(now) + timedelta(days=options["days"]),
            )
        except ShopError as error:
            raise CommandError(f"{options['username']}: {error.detail}") from error
        self.stdout.write(issued.text)
