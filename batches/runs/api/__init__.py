"""Doors of runs."""

from __future__ import annotations

from django.urls import path

from batches.runs.api import bench, doors

urlpatterns = [
    *bench.urlpatterns,
    path("batches/", doors.BatchesDoor.as_view()),
    path("batches/<str:code>/", doors.BatchDoor.as_view()),
    path("batches/<str:code>/ready/", doors.ReadyDoor.as_view()),
    path("batches/<str:code>/start/", doors.StartDoor.as_view()),
    path("batches/<str:code>/hold/", doors.PauseDoor.as_view()),
    path("batches/<str:code>/resume/", doors.ResumeDoor.as_view()),
    path("batches/<str:code>/complete/", doors.CompleteDoor.as_view()),
    path("batches/<str:code>/abort/", doors.AbortDoor.as_view()),
    path("batches/<str:code>/entries/", doors.BatchEntriesDoor.as_view()),
    path("entries/", doors.EntriesDoor.as_view()),
    path("entries/<str:code>/", doors.EntryDoor.as_view()),
    path("entries/<str:code>/reverse/", doors.EntryReverseDoor.as_view()),
    path("scrap-reasons/", doors.ScrapReasonsDoor.as_view()),
]
