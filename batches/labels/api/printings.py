"""Doors of the record of printing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any, ClassVar

from django.http import HttpResponse
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels import operations, pdf, selectors
from batches.labels.api.papers import (
    CopiesField,
    PdfSchema,
    PrintSerializer,
    job_of,
    pdf_answer,
    refuse_too_many,
)
from batches.labels.filters import PrintingFilter
from batches.labels.rules.stock import LABELS_MAX
from shopfloor.doors import ANYONE, WRITERS, Door, ListDoor, StampedDoor
from shopfloor.fields import AtField, CodeField


class NewPrintingSerializer(PrintSerializer):
    """What is printed, how often, on what."""

    kind = serializers.ChoiceField(choices=sorted(selectors.PAPERS))
    codes = serializers.ListField(
        child=CodeField(),
        help_text="Of the lots, boxes ..., in the order they are printed; each once, and "
        f"{LABELS_MAX:,} labels at most, copies counted.",
    )
    copies = CopiesField()

    def validate(self, attrs: Any) -> Any:
        """Not more than a file takes."""
        refuse_too_many(attrs)
        return attrs


class PrintedOut(serializers.Serializer[Any]):
    """A paper."""

    code = serializers.CharField(help_text="Of what it is the paper of.")
    reprint = serializers.IntegerField(help_text="0: the first one; else the so-many-th reprint.")


class PrintingOut(serializers.Serializer[Any]):
    """Who had what printed, when, how often, on what."""

    code = serializers.CharField()
    kind = serializers.CharField()
    title = serializers.CharField()
    stock = serializers.CharField()
    dpi = serializers.IntegerField()
    copies = serializers.IntegerField()
    at = AtField()
    by = serializers.CharField()
    paper_count = serializers.IntegerField(help_text="How many papers, copies not counted.")
    papers = PrintedOut(
        many=True, help_text=f"In the list the first {selectors.PAPERS_SHOWN}; else all."
    )


def _rows(found: Sequence[Any], papers_max: int | None = None) -> list[dict[str, Any]]:
    rows = selectors.printing_rows(found, papers_max=papers_max)
    return [dict(PrintingOut(row).data) for row in rows]


class PrintingsDoor(ListDoor, StampedDoor):
    """What was printed, newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": WRITERS}
    takes: ClassVar = {"POST": NewPrintingSerializer}
    gives: ClassVar = {"GET": PrintingOut, "POST": PrintingOut}
    filterset_class = PrintingFilter
    ordering_fields = ("at",)
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All printings."""
        return selectors.printings()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their first papers."""
        return _rows(page, selectors.PAPERS_SHOWN)

    def post(self, request: Request) -> Response:
        """Keep that papers are printed; `printings/{code}.pdf` is the file to print."""
        body = self.read()
        if (first := self.answered(request)) is not None:
            return first  # what is printed may look otherwise by now, or not be there
        codes = list(dict.fromkeys(body["codes"]))
        kind = selectors.PAPERS[body["kind"]]
        papers = kind.papers(codes, at=timezone.now())
        job = job_of(body, kind.stock(papers))
        pdf.write_papers(papers, job=job, file=BytesIO())  # refuses what cannot be printed
        return self.once(
            request,
            operations.note_printing,
            lambda printing: _rows([printing])[0],
            kind=kind.name,
            codes=codes,
            copies=body["copies"],
            job=job,
            stamp=self.stamp({}),
        )


class PrintingDoor(Door):
    """One printing."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": PrintingOut}

    def get(self, request: Request, code: str) -> Response:
        """Who, what, when."""
        return Response(_rows([selectors.printing_named(code.upper())])[0])


class PrintingPdfDoor(Door):
    """The file of a printing."""

    roles: ClassVar = {"GET": ANYONE}
    schema = PdfSchema()

    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw it, on what it was printed on, as things stand now; each reprint says so."""
        printing = selectors.printing_named(code.upper())
        papers = selectors.noted_papers(printing, at=timezone.now())
        name = f"{printing.kind}-{printing.code}"
        return pdf_answer(papers, selectors.printing_job(printing), name=name)


urlpatterns = [
    path("printings/", PrintingsDoor.as_view()),
    path("printings/<str:code>.pdf", PrintingPdfDoor.as_view()),
    path("printings/<str:code>/", PrintingDoor.as_view()),
]
