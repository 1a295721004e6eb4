"""Doors of papers as PDF, and the one that says what a scan leads to."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import IO, Any, ClassVar, TypeVar

from django.http import HttpResponse
from django.urls import path
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels import pdf, selectors
from batches.labels.rules.geometry import BOX_STOCKS, DPIS, LOT_STOCKS, TRAVELER_STOCKS
from shopfloor.codes.scan import SCAN_LENGTH_MAX
from shopfloor.doors import ANYONE, Door
from shopfloor.doors.schema import DoorSchema

L = TypeVar("L")

# A scanner may send blanks and control characters around what the symbol holds.
SENT_LENGTH_MAX = SCAN_LENGTH_MAX + 50


class PrintSerializer(serializers.Serializer[Any]):
    """For which printer."""

    dpi = serializers.ChoiceField(
        choices=DPIS, default=DPIS[0], help_text="Dots an inch of the printer."
    )


class BoxPrintSerializer(PrintSerializer):
    """On which stock, for which printer."""

    stock = serializers.ChoiceField(choices=BOX_STOCKS, default=BOX_STOCKS[0])


class LotPrintSerializer(PrintSerializer):
    """On which stock, for which printer; hazard text takes the larger unless told otherwise."""

    stock = serializers.ChoiceField(choices=LOT_STOCKS, required=False, default=None)


class TravelerPrintSerializer(PrintSerializer):
    """On which sheet, for which printer."""

    stock = serializers.ChoiceField(choices=TRAVELER_STOCKS, default=TRAVELER_STOCKS[0])


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


class PdfDoor(Door):
    """Answers with a paper to print."""

    roles: ClassVar = {"GET": ANYONE}
    schema = PdfSchema()

    def paper(self, write: Callable[[L, IO[bytes]], None], label: L, name: str) -> HttpResponse:
        """The paper, to be shown or saved under a name."""
        file = BytesIO()
        write(label, file)
        return HttpResponse(
            file.getvalue(),
            content_type="application/pdf",
            headers={
                "Content-Disposition": f'inline; filename="{name}.pdf"',
                "Cache-Control": "no-store",  # what is in a box may change in a minute
            },
        )


class BoxLabelDoor(PdfDoor):
    """The label of a box: what is in it, its lots, and its code to scan."""

    asks = BoxPrintSerializer

    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw it."""
        label = selectors.box_label(code.upper(), **self.asked())
        return self.paper(pdf.write_box_label, label, f"box-{label.code}")


class LotLabelDoor(PdfDoor):
    """The sticker of a lot, with what its safety data sheet says."""

    asks = LotPrintSerializer

    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw it."""
        label = selectors.lot_label(code.upper(), **self.asked())
        return self.paper(pdf.write_lot_label, label, f"lot-{label.code}")


class TravelerDoor(PdfDoor):
    """The sheet that goes with a batch."""

    asks = TravelerPrintSerializer

    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw it, with the lots to take first as of now."""
        paper = selectors.traveler(code.upper(), at=timezone.now(), **self.asked())
        return self.paper(pdf.write_traveler, paper, f"batch-{paper.code}")


class ScanSerializer(serializers.Serializer[Any]):
    """What a scanner or a person sent."""

    code = serializers.CharField(max_length=SENT_LENGTH_MAX, trim_whitespace=False)


class ScanOut(serializers.Serializer[Any]):
    """What the scan leads to."""

    kind = serializers.CharField(help_text="lot, box, batch, item, place ...")
    code = serializers.CharField()
    address = serializers.CharField()


class ScanDoor(Door):
    """What a scan leads to."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ScanSerializer
    gives: ClassVar = {"GET": ScanOut}

    def get(self, request: Request) -> Response:
        """Look it up."""
        return Response(selectors.scan_target(self.asked()["code"])._asdict())


urlpatterns = [
    path("labels/boxes/<str:code>.pdf", BoxLabelDoor.as_view()),
    path("labels/lots/<str:code>.pdf", LotLabelDoor.as_view()),
    path("labels/batches/<str:code>.pdf", TravelerDoor.as_view()),
    path("scan/", ScanDoor.as_view()),
]
