"""Django's card of this floor."""

from django.apps import AppConfig
from django.utils import timezone

from shopfloor import afterwards
from shopfloor.afterwards import CHECKED, COMPLAINED


class BatchesConfig(AppConfig):
    """What we make."""

    name = "batches"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Called by Django once the tables are known."""
        afterwards.follow(CHECKED, _look_at_checks)
        afterwards.follow(COMPLAINED, _look_at_complaints)


def _look_at_checks(definition_ids: set[int]) -> None:
    from batches.management.commands.watch import look_at_checks  # noqa: PLC0415 - needs the tables

    look_at_checks(sorted(definition_ids), now=timezone.now())


def _look_at_complaints(defect_ids: set[int]) -> None:
    from batches.management.commands.watch import look_at_complaints  # noqa: PLC0415 - as above

    look_at_complaints(sorted(defect_ids), now=timezone.now())
