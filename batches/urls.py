"""The API addresses of this floor; each room lists its own beside its doors."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("batches.bills.api")),
    path("", include("batches.exchange.api")),
    path("", include("batches.packing.api")),
    path("", include("batches.labels.api")),
    path("", include("batches.planning.api")),
    path("", include("batches.quality.api")),
    path("", include("batches.recall.api")),
    path("", include("batches.runs.api")),
    path("", include("batches.trace.api")),
    path("", include("batches.watch.api")),
]
