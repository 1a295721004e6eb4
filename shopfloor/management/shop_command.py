"""What commands of a shop that stands have in common: they say so when none does."""

from __future__ import annotations

from collections.abc import Container
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import Error

from shopfloor.models import User
from shopfloor.roles import Role
from shopfloor.selectors import is_set_up


class ShopCommand(BaseCommand):
    """A command for a shop that is set up; elsewhere it says what to do and leaves nothing."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Run it, if there is a shop.

        Raises:
            CommandError: the database has no tables yet, or cannot be read.
        """
        if not has_shop():
            raise CommandError(
                "There is no shop here yet. Run `python3 manage.py start` first, with the same "
                "SHOP_DATA_DIR or DATABASE_URL; or `migrate`, if a whole shop is to come in."
            )
        return super().execute(*args, **options)


def person_of(username: str, *, roles: Container[str], verb: str) -> User:
    """The person of that name, else the first owner, if their role may do it.

    Args:
        username: From the command line; empty: nobody is named.
        roles: Who may.
        verb: What is done: `imports`.

    Raises:
        CommandError: there is nobody, or they may not.
    """
    people = User.objects.filter(is_active=True)
    found = people.filter(username=username.lower()) if username else people.filter(role=Role.OWNER)
    person = found.order_by("pk").first()
    if person is None:
        who = f"Nobody who may sign in is named {username}" if username else "There is no owner yet"
        raise CommandError(f"{who}. Name somebody with --by who {verb}: {_among(roles)}.")
    if person.role not in roles:
        raise CommandError(
            f"{person.username} is {person.role}. Who {verb} is one of: {_among(roles)}."
        )
    return person


def _among(roles: Container[str]) -> str:
    return ", ".join(role for role in Role if role in roles)


def has_shop() -> bool:
    """Whether the database has our tables.

    Raises:
        CommandError: it cannot be read.
    """
    try:
        return is_set_up()
    except Error as error:
        raise away(error) from error


def away(error: Error) -> CommandError:
    """What a command says where the database does not answer."""
    return CommandError(
        f"The database cannot be read: {str(error).strip()}. See whether its server runs and "
        "DATABASE_URL is right; docs/operating.md says more."
    )
