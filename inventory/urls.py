"""The API addresses of this floor; each room lists its own beside its doors."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("inventory.catalog.api")),
    path("", include("inventory.counting.api")),
    path("", include("inventory.purchasing.api")),
    path("", include("inventory.reorder.api")),
    path("", include("inventory.stock.api")),
]
