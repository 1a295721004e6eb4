"""`manage.py changepassword NAME`: a new password, kept in the audit like any other."""

from __future__ import annotations

from getpass import getpass
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand
from shopfloor.operations import set_password
from shopfloor.selectors import person_named


class Command(ShopCommand):
    """Asks for a new password twice; the person's sessions end."""

    help = "Give a person a new password. Their sessions end."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose password."""
        parser.add_argument("username", help="Sign-in name of the person.")
        parser.add_argument(
            "--end-tokens", action="store_true", help="Revoke the person's tokens as well."
        )

    def handle(self, *args: Any, username: str, end_tokens: bool, **options: Any) -> None:
        """Ask and keep it.

        Raises:
            CommandError: nobody has the name, or the password cannot be used.
        """
        try:
            person = person_named(username)
            password = getpass(f"New password for {person.username}: ")
            if password != getpass("The same again: "):
                raise CommandError("The two are not the same. Nothing was changed.")
            set_password(
                username=person.username,
                password=password,
                is_token_end_wanted=end_tokens,
                by=person,
                at=timezone.now(),
            )
        except ShopError as error:
            raise CommandError(f"{username}: {error.detail}") from error
        self.stdout.write(f"{person.username} has a new password. Earlier sign-ins have ended.")
