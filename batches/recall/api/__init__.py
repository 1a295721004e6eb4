"""Addresses of recalls."""

from __future__ import annotations

from django.urls import path

from batches.recall.api import doors

urlpatterns = [
    path("recalls/", doors.RecallsDoor.as_view()),
    path("recalls/preview/", doors.RecallPreviewDoor.as_view()),
    path("recalls/letters/", doors.LettersDoor.as_view()),
    path("recalls/<str:code>/", doors.RecallDoor.as_view()),
    path("recalls/<str:code>/notes/", doors.NotesDoor.as_view()),
    path("recalls/<str:code>/close/", doors.CloseDoor.as_view()),
]
