"""Doors of papers as PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any, ClassVar

from django.http import HttpResponse
from django.urls import path
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.fields import empty
from rest_framework.request import Request

from batches.labels import pdf, selectors
from batches.labels.rules.stock import (
    DPIS,
    LABELS_MAX,
    NUDGE_MAX_UM,
    TEST_STOCK,
    UM_PER_MM,
    number_fault,
)
from shopfloor.doors import ANYONE, Door
from shopfloor.doors.schema import DoorSchema


class NudgeField(serializers.DecimalField):
    """Millimeters, to hundredths; read as micrometers."""

    def __init__(self, **kwargs: Any) -> None:
        most = NUDGE_MAX_UM // UM_PER_MM
        super().__init__(max_digits=4, decimal_places=2, min_value=-most, max_value=most, **kwargs)

    def run_validation(self, data: Any = empty) -> Any:
        """Read and judge it as millimeters."""
        return int(super().run_validation(data) * UM_PER_MM)


class CodesField(serializers.CharField):
    """Codes by commas."""

    def to_internal_value(self, data: Any) -> Any:
        """Read them."""
        text = super().to_internal_value(data)
        return [code.strip().upper() for code in text.split(",") if code.strip()]


class CopiesField(serializers.IntegerField):
    """Papers of each code."""

    default_error_messages = {
        "max_value": f"One file takes at most {LABELS_MAX:,} labels. Print the rest in others."
    }

    def __init__(self) -> None:
        super().__init__(default=1, min_value=1, max_value=LABELS_MAX)


def refuse_too_many(asked: Mapping[str, Any]) -> None:
    """Refuse more than a file takes, of codes and copies, or nothing.

    Raises:
        ValidationError: they are; it says how to split them.
    """
    if fault := number_fault(len(asked["codes"]), asked["copies"]):
        raise serializers.ValidationError({"codes": [fault]})


class PrintSerializer(serializers.Serializer[Any]):
    """On what, and by which printer."""

    stock = serializers.CharField(
        required=False,
        max_length=40,
        help_text="Name of a stock; what suits the paper if not given.",
    )
    dpi = serializers.ChoiceField(
        choices=DPIS, default=DPIS[0], help_text="Dots an inch of the printer."
    )
    start = serializers.IntegerField(
        default=1, min_value=1, help_text="First label used on a part-used sheet, row by row."
    )
    nudge_x_mm = NudgeField(default=0, help_text="Move everything right; left where below 0.")
    nudge_y_mm = NudgeField(default=0, help_text="Move everything down; up where below 0.")
    cut_marks = serializers.BooleanField(default=False, help_text="Draw the corners of labels.")


class ManySerializer(PrintSerializer):
    """Which ones, how many of each, on what."""

    codes = CodesField(
        help_text=f"Codes by commas, printed in this order; {LABELS_MAX:,} labels at most, copies "
        "counted. What an address can hold is less: POST printings/ takes all.",
    )
    copies = CopiesField()

    def validate(self, attrs: Any) -> Any:
        """Not more than a file takes."""
        refuse_too_many(attrs)
        return attrs


class PdfSchema(DoorSchema):
    """The success is a file."""

    def get_response_serializers(self) -> Any:
        """A PDF, and problems for the rest."""
        problems = {
            status: shape
            for status, shape in super().get_response_serializers().items()
            if status != 200  # noqa: PLR2004 - the success of a GET
        }
        paper = OpenApiResponse(OpenApiTypes.BINARY, description="The paper.")
        return {(200, "application/pdf"): paper, **problems}


def job_of(asked: Mapping[str, Any], stock: str) -> selectors.PrintJob:
    """The print job of what `PrintSerializer` read, on that stock if none is named.

    Raises:
        StockUnknownError, StartOffSheetError: of `print_job`.
    """
    return selectors.print_job(
        asked.get("stock") or stock,
        dpi=asked["dpi"],
        start=asked["start"],
        nudge_x_um=asked["nudge_x_mm"],
        nudge_y_um=asked["nudge_y_mm"],
        has_cut_marks=asked["cut_marks"],
    )


def pdf_answer(
    papers: Sequence[selectors.Paper], job: selectors.PrintJob, *, name: str
) -> HttpResponse:
    """Papers as one file."""
    file = BytesIO()
    pdf.write_papers(papers, job=job, file=file)
    return HttpResponse(
        file.getvalue(),
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}.pdf"',
            "Cache-Control": "no-store",  # what is in a box may change in a minute
        },
    )


class PdfDoor(Door):
    """Answers with papers to print."""

    roles: ClassVar = {"GET": ANYONE}
    asks = PrintSerializer
    schema = PdfSchema()

    kind: ClassVar[selectors.PaperKind]

    def drawn(self, codes: Sequence[str], copies: int = 1) -> HttpResponse:
        """The papers of these codes as one file, as they are now."""
        found = self.kind.papers(codes, at=timezone.now())
        papers = [paper for paper in found for _ in range(copies)]
        more = f"-and-{len(papers) - 1}-more" if len(papers) > 1 else ""
        name = f"{self.kind.name}-{papers[0].code}{more}"
        return pdf_answer(papers, job_of(self.asked(), self.kind.stock(found)), name=name)


class PrinterTestDoor(Door):
    """A page that measures the printer."""

    roles: ClassVar = {"GET": ANYONE}
    asks = PrintSerializer
    schema = PdfSchema()

    def get(self, request: Request) -> HttpResponse:
        """Draw it on every label of a page, from `start` on."""
        job = job_of(self.asked(), TEST_STOCK)
        return pdf_answer(selectors.printer_tests(job), job, name=f"test-{job.stock.name}")


class PaperDoor(PdfDoor):
    """Answers with the paper of one thing."""

    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw it, as it is now."""
        return self.drawn([code.upper()])


class ManyPapersDoor(PdfDoor):
    """Answers with the papers of many things, in the order asked."""

    asks = ManySerializer

    def get(self, request: Request) -> HttpResponse:
        """Draw them all, each as often as wanted."""
        asked = self.asked()
        return self.drawn(asked["codes"], asked["copies"])


def _paper_door(kind: selectors.PaperKind, base: type[PdfDoor]) -> type[PdfDoor]:
    """The door of one kind of paper."""
    many = "" if base is PaperDoor else "s"
    name = f"{kind.title.title().replace(' ', '')}{many}Door"
    words = f"{kind.title}{many} as one PDF: a look, which no record of printing is kept of."
    return type(name, (base,), {"kind": kind, "__doc__": words, "__module__": __name__})


urlpatterns = [
    path("labels/test.pdf", PrinterTestDoor.as_view()),
    *(
        path(f"labels/{kind.name}/<str:code>.pdf", _paper_door(kind, PaperDoor).as_view())
        for kind in selectors.PAPERS.values()
    ),
    *(
        path(f"labels/{kind.name}.pdf", _paper_door(kind, ManyPapersDoor).as_view())
        for kind in selectors.PAPERS.values()
    ),
]
