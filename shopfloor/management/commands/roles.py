"""`manage.py roles`: the page docs/roles.md."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from shopfloor.access import role_page


class Command(BaseCommand):
    """Prints who may do what."""

    help = "Print the page docs/roles.md, made of the doors."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print it."""
        self.stdout.write(role_page(), ending="")
