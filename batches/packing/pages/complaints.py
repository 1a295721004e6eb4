"""Pages of complaints."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path

from batches.packing.api import complaints
from shopfloor.screens import FILLED, Act, ActPage, Column, ListPage, ThingPage, ask


class ComplaintsPage(ListPage):
    """Complaints."""

    door = complaints.ComplaintsDoor
    title = "Complaints"
    columns = (
        Column("code", "Complaint"),
        Column("told_on", "Told", order="told_on"),
        Column("defect", order="defect__code", note="defect_name"),
        Column("pieces", order="pieces"),
        Column("customer", note="customer_name"),
        Column("box"),
        Column("lot"),
        Column("item"),
        Column("model"),
        Column("note"),
    )
    filters = ("defect", "customer", "item", "told_on_after", "is_replaced")
    preset: ClassVar = {"is_replaced": "false"}
    acts = (
        Act("Write down a complaint", "/complaints/new/", is_main=True),
        Act("What they have in common", "/trace/causes/", door=""),
    )
    none = "Nobody complained."


class ComplaintPage(ThingPage):
    """One complaint."""

    door = complaints.ComplaintDoor
    title = "Complaint"
    hidden = ("customer_name", "defect_name")
    labels: ClassVar = {
        "bought_first_on": "Bought from",
        "bought_last_on": "Bought to",
        "returns": "Came back",
        "told_on": "Told",
    }
    to: ClassVar = {"replaces": "complaints", "replaced_by": "complaints"}
    acts = (
        Act(
            "What such pieces have in common",
            "/trace/causes/?defect={defect}&complaint={code}",
            {"replaced_by": [None]},
            door="",
        ),
        Act("Trace the box", "/trace/?code={box}", {"box": FILLED}, door=""),
        Act("Trace the lot", "/trace/?code={lot}", {"lot": FILLED}, door=""),
        Act(
            "Write down another",
            "/complaints/new/?defect={defect}&customer={customer}",
            {"customer": FILLED},
        ),
        Act("Write down another", "/complaints/new/?defect={defect}", {"customer": [None]}),
        Act("Pieces came back", "/customer-returns/new/?complaint={code}"),
        Act("Write it down anew", "/complaints/new/?replaces={code}", {"replaced_by": [None]}),
    )


class ComplaintForm(ActPage):
    """A new complaint."""

    door = complaints.ComplaintsDoor
    title = "Write down a complaint"
    says = (
        "What a customer told us. Name the box, with the item if the box is a mixed one, or the "
        "lot; where neither is known the item or model and the days in which it was bought."
    )
    button = "Save it"
    done = "{code} is written down."
    first = ("defect", "pieces", "customer", "box", "lot", "item", "model", "note")
    later = ("told_on", "replaces")
    looks: ClassVar = {"replaces": "complaints"}
    helps: ClassVar = {"defect": "Type a word of it, leak say, and choose."}
    labels: ClassVar = {
        "defect": "What is wrong",
        "pieces": "Pieces that have it",
        "bought_first_on": "Bought from",
        "bought_last_on": "Bought to",
        "told_on": "Told on, if not today",
        "replaces": "In place of",
    }

    def initial(self) -> dict[str, Any]:
        """What the one in whose place it is written says."""
        code = self.request.GET.get("replaces")
        return dict(ask(self.request, f"complaints/{code}/")) | {"replaces": code} if code else {}


urlpatterns = [
    path("complaints/", ComplaintsPage.as_view()),
    path("complaints/new/", ComplaintForm.as_view()),
    path("complaints/<str:code>/", ComplaintPage.as_view()),
]
