"""What a trace is answered as beside JSON: which format was asked for, and the file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.request import Request

from batches.trace.rules.drawing import Card, laid_out
from batches.trace.rules.epcis import Names, document
from batches.trace.rules.svg import as_svg
from batches.trace.selectors import Question
from batches.trace.selectors.folded import folded_picture
from batches.trace.selectors.happened import happened
from batches.trace.selectors.pictures import picture_of
from batches.trace.selectors.rows import Downstream, Upstream
from inventory.stock.selectors.lineage import Direction
from inventory.stock.selectors.lots import as_json
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.days import shop_zone
from shopfloor.doors.schema import DoorSchema
from shopfloor.doors.sheets import sheet_answer
from shopfloor.renderers import FastJSONRenderer
from shopfloor.sheets import CSV, XLSX

JSON: Final = "json"
SVG: Final = "svg"
EPCIS: Final = "epcis"
SHEETS: Final = {kind.name: kind for kind in (CSV, XLSX)}
MEDIA_TYPES: Final = {
    JSON: "application/json",
    **{name: kind.media_type for name, kind in SHEETS.items()},
    SVG: "image/svg+xml",
    EPCIS: "application/ld+json",
}
EDGES: Final = "edges"
PAGE_SCALE: Final = 1.4
"""On a page letters are as large as the page's own; the drawing is made for paper."""


class TraceFormatsSchema(DoorSchema):
    """The other formats beside JSON."""

    def get_response_serializers(self) -> Any:
        """A file each."""
        answers = super().get_response_serializers()
        for name, media_type in MEDIA_TYPES.items():
            if name != JSON:
                answers[200, media_type] = OpenApiResponse(
                    OpenApiTypes.BINARY, description=f"As {name.upper()}."
                )
        return answers


def asked_format(request: Request, named: str | None) -> str:
    """The format that `?format=` names, or else `Accept`; JSON where that is open."""
    if named is not None:
        return named
    # JSON first: it is what somebody gets who takes anything.
    wanted = request._request.get_preferred_type(list(MEDIA_TYPES.values()))
    return next((name for name, kind in MEDIA_TYPES.items() if kind == wanted), JSON)


def refuse_idle(asked: Mapping[str, Any], name: str) -> None:
    """Refuse parameters that mean nothing in this format.

    Raises:
        ValidationError: `rows` where it is no sheet, `fold` or `drawing` where it is no JSON.
    """
    if "rows" in asked and name not in SHEETS:
        raise serializers.ValidationError(
            {"rows": [f"Only a sheet shows one part: add format={' or '.join(SHEETS)}."]}
        )
    if asked.get("drawing") and name != JSON:
        raise serializers.ValidationError(
            {"drawing": ["Only JSON has a drawing beside it. Leave drawing away."]}
        )
    if asked.get("drawing") and "fold" in asked:
        raise serializers.ValidationError({"fold": ["A drawing needs all edges. Leave fold away."]})
    if "fold" in asked and name != JSON:
        raise serializers.ValidationError(
            {"fold": ["Only JSON has both to leave one out. Leave fold away."]}
        )


def trace_drawing(answer: Upstream | Downstream, *, name: str) -> HttpResponse:
    """The answer as a drawing.

    Raises:
        TraceTooLargeError: more lots than a drawing has room for.
    """
    drawn = as_svg(laid_out(picture_of(answer)))
    return _file(drawn, SVG, disposition=f'inline; filename="{name}.svg"')


def folded_drawing(
    answer: Upstream | Downstream, *, direction: Direction, opened: Sequence[str]
) -> str:
    """The answer drawn for the page, its like parts folded; each card leads on from there."""
    start = {"code": answer.start.code, "way": direction}

    def leads(card: Card) -> str:
        if card.of > 1:
            names = ",".join(filter(None, [*opened, card.key]))
            return f"?{urlencode({**start, 'open': names})}#drawn"
        return f"?{urlencode({'code': card.code, 'way': direction})}#drawn" if card.code else ""

    drawn = laid_out(folded_picture(answer, opened=opened))
    return as_svg(drawn, leads=leads, scale=PAGE_SCALE)


def trace_document(question: Question, direction: Direction, *, request: Request) -> HttpResponse:
    """The trace as an EPCIS document; our own names are addresses on the host that was asked.

    Raises:
        NothingToTraceError: no event.
    """
    prefix = settings.SHOP_GS1_PREFIX
    told = document(
        happened(question, direction),
        names=Names(
            request.build_absolute_uri("/api/v1/"), CompanyPrefix(prefix) if prefix else None
        ),
        made_at=timezone.now(),
        zone=shop_zone(),
    )
    demo = "DEMO-" if settings.SHOP_IS_DEMO else ""
    name = f"{demo}{direction}-{question.lot or question.batch or question.box}"
    body = FastJSONRenderer().render(told)
    return _file(body, EPCIS, disposition=f'attachment; filename="{name}.jsonld"')


def _file(body: str | bytes, kind: str, *, disposition: str) -> HttpResponse:
    return HttpResponse(
        body,
        content_type=MEDIA_TYPES[kind],
        headers={
            "Content-Disposition": disposition,
            "Cache-Control": "no-store",  # where it is now may change in a minute
        },
    )


def trace_sheet(
    answer: Upstream | Downstream,
    shape: type[serializers.BaseSerializer[Any]],
    *,
    kind: str,
    rows: str,
    name: str,
) -> HttpResponseBase:
    """One part of the answer as a sheet, a row a line."""
    part: Any = shape().fields[rows]  # type: ignore[attr-defined]
    return sheet_answer(
        SHEETS[kind],
        name=f"{name}-{rows}",
        shape=part.child,
        rows=map(as_json, getattr(answer, rows)),
    )
