"""`manage.py fill_demo`: the demo that a page asked for; nobody types it."""

from __future__ import annotations

from typing import Any

from shopfloor.management.commands.start import Command as Start
from shopfloor.management.commands.start import make_first_owner
from shopfloor.running import running_shop


class Command(Start):
    """Fills a new folder whose marker says that it is to be the demo."""

    help = "Fill the demo in a new data folder (pages ask for it; see start)."

    def add_arguments(self, parser: Any) -> None:
        """Declare none."""

    def handle(self, **options: Any) -> None:
        """Do what `start` does before it serves."""
        with running_shop():
            self.bring_up_to_date(has_backup=False)
            make_first_owner()
            self.load_demo(is_empty_wanted=False)
