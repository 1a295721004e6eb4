"""The API addresses of this floor; each room lists its own beside its doors."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
