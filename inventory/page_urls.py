"""The pages of this floor; each room lists its own beside its doors."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("inventory.catalog.pages")),
    path("", include("inventory.counting.pages")),
    path("", include("inventory.purchasing.pages")),
    path("", include("inventory.reorder.pages")),
    path("", include("inventory.stock.pages")),
]
