"""What a row of a table is called by people."""

from __future__ import annotations

from functools import cache
from typing import Final

from django.apps import apps

from shopfloor.append_only import AppendOnly
from shopfloor.models import User

_OURS: Final = ("shopfloor.", "inventory.", "batches.")


@cache
def nouns() -> dict[str, str]:
    """What a row of each plain table is to people, by table."""
    models = [model for model in apps.get_models() if model.__module__.startswith(_OURS)]
    plain = [model for model in models if not issubclass(model, AppendOnly)]
    return {
        model._meta.db_table: "person" if model is User else str(model._meta.verbose_name)
        for model in plain
    }
