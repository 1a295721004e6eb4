"""The door of the paper of control charts."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import HttpResponse
from django.urls import path
from django.utils import timezone
from rest_framework.request import Request

from batches.labels.api.papers import PdfSchema, PrintSerializer, job_of, pdf_answer
from batches.labels.selectors.charts import chart_paper
from batches.quality.api.shapes import ChartAskSerializer
from shopfloor.doors import ANYONE, Door

ASKED = ("definition", "first_on", "last_on")


class ChartPaperSerializer(ChartAskSerializer, PrintSerializer):
    """Which check, when, and on what it is printed."""


class ChartPaperDoor(Door):
    """Control charts of a check as a PDF: the drawings, the rules that fired, every point."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ChartPaperSerializer
    schema = PdfSchema()

    def get(self, request: Request) -> HttpResponse:
        """Draw it, as it is now."""
        asked: dict[str, Any] = self.asked()
        paper = chart_paper(**{name: asked[name] for name in ASKED}, at=timezone.now())
        return pdf_answer([paper], job_of(asked, "letter"), name=f"chart-{paper.code}")


urlpatterns = [path("checks/chart.pdf", ChartPaperDoor.as_view())]
