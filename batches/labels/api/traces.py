"""Doors of the paper of a trace: the questions of the trace, answered for a printer."""

from __future__ import annotations

from io import BytesIO
from typing import Any, ClassVar

from django.http import HttpResponse
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request

from batches.labels.api.papers import PdfSchema
from batches.labels.pdf.traces import write_trace
from batches.labels.selectors.traces import trace_job, trace_paper
from batches.trace import selectors
from batches.trace.api.shapes import QuestionSerializer
from batches.trace.selectors.rows import Downstream, Upstream
from shopfloor.doors import ANYONE, Door

SHEETS = ("letter", "a4")


class TracePaperSerializer(QuestionSerializer):
    """Where it begins, and the sheets it is printed on."""

    stock = serializers.ChoiceField(
        choices=SHEETS, default=SHEETS[0], help_text="The sheets, which lie on their side."
    )


class _TracePaperDoor(Door):
    roles: ClassVar = {"GET": ANYONE}
    asks = TracePaperSerializer
    schema = PdfSchema()

    direction: ClassVar[str]

    def answer(self, question: selectors.Question) -> Upstream | Downstream:
        """The trace."""
        raise NotImplementedError

    def drawn(self) -> HttpResponse:
        """The paper, as it is now."""
        asked: dict[str, Any] = self.asked()
        job = trace_job(asked.pop("stock"))
        answer = self.answer(selectors.Question(**asked))
        file = BytesIO()
        write_trace(trace_paper(answer, at=timezone.now()), job=job, file=file)
        name = f"{self.direction}-{answer.start.code}"
        return HttpResponse(
            file.getvalue(),
            content_type="application/pdf",
            headers={
                "Content-Disposition": f'inline; filename="{name}.pdf"',
                "Cache-Control": "no-store",
            },
        )


class UpstreamPaperDoor(_TracePaperDoor):
    """What went into a lot, a batch or a box as a PDF: the drawing, and a table of every edge."""

    direction = "upstream"

    def answer(self, question: selectors.Question) -> Upstream:
        """What went in."""
        return selectors.upstream(question)

    def get(self, request: Request) -> HttpResponse:
        """Draw it."""
        return self.drawn()


class DownstreamPaperDoor(_TracePaperDoor):
    """Where a lot, a batch or a box went as a PDF: the drawing, what became of it, every edge."""

    direction = "downstream"

    def answer(self, question: selectors.Question) -> Downstream:
        """Where it went."""
        return selectors.downstream(question)

    def get(self, request: Request) -> HttpResponse:
        """Draw it."""
        return self.drawn()


urlpatterns = [
    path("trace/upstream.pdf", UpstreamPaperDoor.as_view()),
    path("trace/downstream.pdf", DownstreamPaperDoor.as_view()),
]
