"""Doors of the two questions: what went in, and where it went."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from batches.trace import selectors
from batches.trace.api.formats import (
    EDGES,
    EPCIS,
    JSON,
    SVG,
    TraceFormatsSchema,
    asked_format,
    folded_drawing,
    refuse_idle,
    trace_document,
    trace_drawing,
    trace_sheet,
)
from batches.trace.api.shapes import (
    DownstreamOut,
    DownstreamSerializer,
    UpstreamOut,
    UpstreamSerializer,
)
from batches.trace.selectors.rows import Downstream, Upstream
from inventory.stock.selectors.lineage import Direction
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door


class _TraceDoor(Door):
    roles: ClassVar = {"GET": ANYONE}
    schema = TraceFormatsSchema()

    direction: ClassVar[Direction]

    def answer(self, question: selectors.Question) -> Upstream | Downstream:
        """The trace."""
        raise NotImplementedError

    def traced(self, request: Request) -> HttpResponseBase:
        """The trace in the format that was asked for."""
        asked: dict[str, Any] = self.asked()
        name = asked_format(request, asked.pop("format", None))
        refuse_idle(asked, name)
        rows = asked.pop("rows", EDGES)
        is_drawn, opened = asked.pop("drawing"), asked.pop("open").split(",")
        question = selectors.Question(**asked)
        if name == EPCIS:
            return trace_document(question, self.direction, request=request)
        answer = self.answer(question)
        if name == JSON:
            said = as_json(answer)
            if is_drawn:
                said["drawing"] = folded_drawing(answer, direction=self.direction, opened=opened)
            return Response(said)
        file = f"{self.direction}-{answer.start.code}"
        if name == SVG:
            return trace_drawing(answer, name=file)
        shape = self.given("GET")[1]
        assert shape is not None
        return trace_sheet(answer, shape, kind=name, rows=rows, name=file)

    @property
    def default_response_headers(self) -> dict[str, str]:
        """The same address answers in several formats."""
        return {**super().default_response_headers, "Vary": "Accept"}


class UpstreamDoor(_TraceDoor):
    """What went into a lot, a batch or a box, and where that came from.

    A batch stands for the lots that its entries made, a box for those in it or that left in it.
    What was reversed does not flow, nor does a count or an adjustment. Where lots of one item were
    used together, each of them is named, with how much of it is here by share and at most.
    """

    asks = UpstreamSerializer
    gives: ClassVar = {"GET": UpstreamOut}
    direction = Direction.UPSTREAM

    def answer(self, question: selectors.Question) -> Upstream:
        """What went in."""
        return selectors.upstream(question)

    def get(self, request: Request) -> HttpResponseBase:
        """Trace it back."""
        return self.traced(request)


class DownstreamDoor(_TraceDoor):
    """Where a lot, a batch or a box went, and where it is now.

    A batch stands for the lots that its entries made, a box for those in it or that left in it.
    What was reversed does not flow, nor does a count or an adjustment. Of a lot made of several, it
    says how much came of the start by share and at most.
    """

    asks = DownstreamSerializer
    gives: ClassVar = {"GET": DownstreamOut}
    direction = Direction.DOWNSTREAM

    def answer(self, question: selectors.Question) -> Downstream:
        """Where it went."""
        return selectors.downstream(question)

    def get(self, request: Request) -> HttpResponseBase:
        """Trace it forward."""
        return self.traced(request)
