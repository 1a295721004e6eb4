"""Pages of alerts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.urls import path

from batches.trace.pages import suspect_acts
from batches.watch import api
from shopfloor.screens import Act, ActPage, Column, ListPage, Table, ThingPage


class AlertsPage(ListPage):
    """Alerts."""

    door = api.AlertsDoor
    title = "Alerts"
    says = "A defect became more frequent, beyond chance. Opened by the program, closed by a lead."
    columns = (
        Column("code", "Alert"),
        Column("defect", note="defect_name"),
        Column("seen", "What was seen"),
        Column("opened_at", "Opened", order="opened_at"),
        Column("closed_at", "Closed"),
    )
    filters = ("defect", "definition", "is_open")
    preset: ClassVar = {"is_open": "true"}
    none = "No alert is open. Each check and complaint that is recorded is looked at."


class AlertPage(ThingPage):
    """One alert: what was seen, what it has in common, what to do."""

    door = api.AlertDoor
    title = "Alert"
    facts = (
        *("defect_name", "definition", "opened_at", "since_at"),
        *("closed_at", "closed_by", "closed_because", "is_usual"),
    )
    labels: ClassVar = {
        "defect_name": "Defect",
        "definition": "Seen by",
        "since_at": "Most likely since",
        "is_usual": "Counts as usual from then on",
    }
    to: ClassVar = {"definition": "check-definitions"}
    tables = (
        Table("exposures", "What it may come of", (Column("kind", "What"), Column("name"))),
        Table(
            "rates",
            "Before and since",
            (Column("when"), Column("tested"), Column("failed"), Column("share_ratio", "Share")),
        ),
    )
    acts = (
        Act(
            "What the failures have in common",
            "/trace/causes/?defect={defect}",
            door="",
            is_main=True,
        ),
        Act("Close it", "close/", {"is_open": [True]}),
    )
    template = "batches/alert.html"

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With the rates side by side, and what to do about each suspect."""
        rates = [
            _rate("before", thing["tested_before"], thing["failed_before"]),
            _rate("since", thing["tested"], thing["failed"]),
        ]
        said = super().context({**thing, "rates": rates})
        suspects = suspect_acts(self.request, thing["exposures"]) if thing["is_open"] else []
        return {**said, "acts": [*said["acts"], *suspects]}


def _rate(when: str, tested: int, failed: int) -> dict[str, Any]:
    share = f"{failed / tested:.4f}" if tested else ""
    return {"when": when, "tested": tested, "failed": failed, "share_ratio": share}


class AlertCloseForm(ActPage):
    """The end of an alert."""

    door = api.CloseAlertDoor
    title = "Close the alert"
    says = "Say what was found and done; your name is kept. The next rise opens another."
    button = "Close it"
    done = "{code} is closed."
    needs = ("reason",)
    labels: ClassVar = {
        "reason": "What was found and done",
        "is_usual": "What was seen is usual from now on",
    }


urlpatterns = [
    path("alerts/", AlertsPage.as_view()),
    path("alerts/<str:code>/", AlertPage.as_view()),
    path("alerts/<str:code>/close/", AlertCloseForm.as_view()),
]
