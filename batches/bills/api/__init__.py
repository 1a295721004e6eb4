"""Doors of stages and bills of materials."""

from __future__ import annotations

from django.urls import path

from batches.bills.api import bills, stages

_REVISION = "bills/<str:item>/revisions/<int:number>/"

urlpatterns = [
    path("stages/", stages.StagesDoor.as_view()),
    path("stages/<str:code>/", stages.StageDoor.as_view()),
    path("stages/<str:code>/change/", stages.StageChangeDoor.as_view()),
    path("bills/", bills.BillsDoor.as_view()),
    path("bills/<str:item>/", bills.BillDoor.as_view()),
    path("bills/<str:item>/stage/", bills.BillStageDoor.as_view()),
    path("bills/<str:item>/copy/", bills.BillCopyDoor.as_view()),
    path("bills/<str:item>/where-used/", bills.WhereUsedDoor.as_view()),
    path("bills/<str:item>/cost/", bills.BillCostDoor.as_view()),
    path("bills/<str:item>/compare/", bills.BillCompareDoor.as_view()),
    path("bills/<str:item>/revisions/", bills.RevisionsDoor.as_view()),
    path(_REVISION, bills.RevisionDoor.as_view()),
    path(f"{_REVISION}change/", bills.RevisionChangeDoor.as_view()),
    path(f"{_REVISION}release/", bills.RevisionReleaseDoor.as_view()),
    path(f"{_REVISION}retire/", bills.RevisionRetireDoor.as_view()),
]
