"""The pages of this floor; each room lists its own beside its doors."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("batches.attention.pages")),
    path("", include("batches.bills.pages")),
    path("", include("batches.exchange.pages")),
    path("", include("batches.labels.pages")),
    path("", include("batches.packing.pages")),
    path("", include("batches.planning.pages")),
    path("", include("batches.quality.pages")),
    path("", include("batches.recall.pages")),
    path("", include("batches.runs.pages")),
    path("", include("batches.trace.pages")),
    path("", include("batches.watch.pages")),
]
