"""Doors of the trace."""

from __future__ import annotations

from django.urls import path

from batches.trace.api import causes, traces

urlpatterns = [
    path("trace/upstream/", traces.UpstreamDoor.as_view()),
    path("trace/downstream/", traces.DownstreamDoor.as_view()),
    path("trace/causes/", causes.CausesDoor.as_view()),
]
