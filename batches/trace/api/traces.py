"""Doors of the two questions: what went in, and where it went."""

from __future__ import annotations

from typing import ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.trace import selectors
from batches.trace.api.shapes import DownstreamOut, TraceSerializer, UpstreamOut
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door


class _TraceDoor(Door):
    roles: ClassVar = {"GET": ANYONE}
    asks = TraceSerializer

    def question(self) -> selectors.Question:
        """What is asked."""
        return selectors.Question(**self.asked())


class UpstreamDoor(_TraceDoor):
    """What went into a lot, a batch or a box, and where that came from.

    A batch stands for the lots that its entries made, a box for those in it or that left in it.
    What was reversed does not flow, nor does a count or an adjustment. Where lots of one item were
    used together, each of them is named, with how much of it is here by share and at most.
    """

    gives: ClassVar = {"GET": UpstreamOut}

    def get(self, request: Request) -> Response:
        """Trace it back."""
        return Response(as_json(selectors.upstream(self.question())))


class DownstreamDoor(_TraceDoor):
    """Where a lot, a batch or a box went, and where it is now.

    A batch stands for the lots that its entries made, a box for those in it or that left in it.
    What was reversed does not flow, nor does a count or an adjustment. Of a lot made of several, it
    says how much came of the start by share and at most.
    """

    gives: ClassVar = {"GET": DownstreamOut}

    def get(self, request: Request) -> Response:
        """Trace it forward."""
        return Response(as_json(selectors.downstream(self.question())))
