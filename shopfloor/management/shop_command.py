"""What commands of a shop that stands have in common: they say so when none does."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import Error

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
