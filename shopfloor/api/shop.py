"""The door that says what is set on the computer that runs this; secrets are not told."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from django.conf import settings
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.doors import OWNERS, Door

SETTINGS: Final = {
    "SHOP_NAME": "shown on pages and papers",
    "SHOP_TIME_ZONE": "when a day begins, and how times are shown",
    "SHOP_CURRENCY": "the label of all values",
    "SHOP_GS1_PREFIX": "company prefix of the shop's GS1 license",
    "SHOP_ADDRESS": "where phones in the shop reach it; papers then carry links",
    "SHOP_ALLOWED_HOSTS": "names the server answers to",
    "SHOP_IDLE_MINUTES": "so long without a request, and a sign-in has ended",
    "SHOP_DATA_DIR": "the shop's own folder",
    "DATABASE_URL": "the kind of database",
    "SHOP_PRODUCTION": "HTTPS only",
    "SHOP_LOG_JSON": "the log as one JSON object a line",
    "SHOP_WATCH_BY_HAND": "rises are looked for by manage.py watch alone",
}
"""What each is; docs/operating.md has the whole of it."""


class SettingOut(serializers.Serializer[Any]):
    """A setting as it is."""

    name = serializers.CharField(help_text="Of the environment variable.")
    value = serializers.CharField(help_text="Empty: none.")
    about = serializers.CharField()


class SettingsOut(serializers.Serializer[Any]):
    """All but secrets."""

    settings = SettingOut(many=True)


class SettingsDoor(Door):
    """What is set. It is changed on the computer that runs this, before a start."""

    roles: ClassVar = {"GET": OWNERS}
    gives: ClassVar = {"GET": SettingsOut}

    def get(self, request: Request) -> Response:
        """As this program runs now."""
        rows = [
            {"name": name, "value": _told(name), "about": about} for name, about in SETTINGS.items()
        ]
        return Response(SettingsOut({"settings": rows}).data)


def _told(name: str) -> str:
    if name == "SHOP_ALLOWED_HOSTS":
        return ", ".join(settings.ALLOWED_HOSTS)
    if name == "SHOP_IDLE_MINUTES":
        return str(int(settings.SESSION_IDLE.total_seconds()) // 60)
    if name == "DATABASE_URL":
        return "PostgreSQL" if "postgresql" in settings.DATABASES["default"]["ENGINE"] else "SQLite"
    value = getattr(settings, name)
    return ("no", "yes")[value] if isinstance(value, bool) else str(value)
