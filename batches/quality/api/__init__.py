"""Addresses of checks."""

from __future__ import annotations

from django.urls import path

from batches.quality.api import doors

urlpatterns = [
    path("check-definitions/", doors.DefinitionsDoor.as_view()),
    path("check-definitions/<str:code>/", doors.DefinitionDoor.as_view()),
    path("check-definitions/<str:code>/change/", doors.DefinitionChangeDoor.as_view()),
    path("checks/", doors.ChecksDoor.as_view()),
    path("checks/plan/", doors.PlanDoor.as_view()),
    path("checks/chart/", doors.ChartDoor.as_view()),
    path("checks/<str:code>/", doors.CheckDoor.as_view()),
]
