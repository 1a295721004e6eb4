"""Where the database stands among the migrations: behind this program, level with it, or ahead."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

TOO_NEW = (
    "A newer version of this program has worked on this database (it knows {names}), and this "
    "older one would not read it rightly. Start the newer version, or restore a backup from before "
    "the update (docs/operating.md)."
)


def waiting_migrations(using: str = "default") -> list[str]:
    """Migrations of this program that the database has not had yet, in order."""
    executor = MigrationExecutor(connections[using])
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label}.{migration.name}" for migration, _ in plan]


def newer_migrations(using: str = "default") -> list[str]:
    """Migrations that the database has had and this program does not know. One or two queries."""
    return unknown_migrations(MigrationRecorder(connections[using]).applied_migrations())


def unknown_migrations(applied: Iterable[tuple[str, str]]) -> list[str]:
    """Those of some migrations, each an app and a name, that this program does not know."""
    loader = MigrationLoader(None)
    known = set(loader.disk_migrations)
    for migration in loader.disk_migrations.values():
        known.update(migration.replaces)
    # An app that is gone from the program left its migrations behind: that is no newer database.
    return sorted(
        f"{app}.{name}"
        for app, name in applied
        if app in loader.migrated_apps and (app, name) not in known
    )
