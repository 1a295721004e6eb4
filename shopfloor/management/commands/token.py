"""`manage.py token NAME`: a token for a person's programs, printed and nothing else."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand
from shopfloor.operations import issue_token
from shopfloor.selectors import person_named


class Command(ShopCommand):
    """Issues a token."""

    help = "Make an API token for a person and print it. It is shown this once."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose token it is, and what uses it."""
        parser.add_argument("username", help="Sign-in name of the person.")
        parser.add_argument("--name", default="command line", help="What will use the token.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Issue and print it."""
        try:
            person = person_named(options["username"])
            issued = issue_token(
                username=person.username, name=options["name"], by=person, at=timezone.now()
            )
        except ShopError as error:
            raise CommandError(f"{options['username']}: {error.detail}") from error
        self.stdout.write(issued.text)
