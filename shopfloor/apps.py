"""Django's card of the ground floor: triggers come back after every migrate, a check sees it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import connections
from django.db.models.signals import (  # noqa: TID251 - around a migrate only
    post_migrate,
    pre_migrate,
)


class ShopfloorConfig(AppConfig):
    """What every room stands on."""

    name = "shopfloor"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Called by Django once the tables are known."""
        # No app is migrated yet, and all are by then: one call each, for this app, is for all.
        pre_migrate.connect(_make_way, sender=self)
        post_migrate.connect(_put_triggers_back, sender=self)
        checks.register(triggers_stand, checks.Tags.database)
        checks.register(database_is_not_newer, checks.Tags.database)


def triggers_stand(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **_: Any
) -> list[checks.CheckMessage]:
    """Warn where history is not guarded; a warning, so that `migrate` can mend it."""
    from shopfloor import append_only  # noqa: PLC0415 - it needs the tables to be known

    messages: list[checks.CheckMessage] = []
    for using in databases or ():
        expected = append_only.expected_triggers(connections[using].vendor)
        tables = set(connections[using].introspection.table_names())
        for name in append_only.missing_triggers(using):
            if expected[name] in tables:
                text = f"The table {expected[name]} lacks its trigger {name}."
                hint = "Run `manage.py migrate`: it puts the triggers back."
                messages.append(checks.Warning(text, hint=hint, id="shopfloor.W001"))
    return messages


def database_is_not_newer(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **_: Any
) -> list[checks.CheckMessage]:
    """Refuse to migrate, or to be started as a unit, on the database of a newer program."""
    from shopfloor import schema  # noqa: PLC0415 - as above

    newer = {name for using in databases or () for name in schema.newer_migrations(using)}
    text = schema.TOO_NEW.format(names=", ".join(sorted(newer)))
    return [checks.Error(text, id="shopfloor.E001")] if newer else []


def _make_way(*, using: str, **_: Any) -> None:
    from shopfloor import append_only  # noqa: PLC0415 - as above

    append_only.make_way_for_migrations(using)


def _put_triggers_back(*, using: str, **_: Any) -> None:
    from shopfloor import append_only  # noqa: PLC0415 - as above

    append_only.install_triggers(using)
