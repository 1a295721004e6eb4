"""Doors of reordering."""

from __future__ import annotations

from django.urls import path

from inventory.reorder.api import doors

urlpatterns = [
    path("reorder/", doors.ReorderDoor.as_view()),
    path("reorder/<str:code>/", doors.ReorderItemDoor.as_view()),
    path("reorder/<str:code>/policy/", doors.PolicyDoor.as_view()),
]
