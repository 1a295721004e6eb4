"""What commands of a shop that stands have in common: they say so when none does."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopfloor.selectors import is_set_up


class ShopCommand(BaseCommand):
    """A command for a shop that is set up; elsewhere it says what to do and leaves nothing."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Run it, if there is a shop.

        Raises:
            CommandError: the database has no tables yet.
        """
        if not is_set_up():
            raise CommandError(
                "There is no shop here yet. Run `python3 manage.py start` first, with the same "
                "SHOP_DATA_DIR or DATABASE_URL."
            )
        return super().execute(*args, **options)
