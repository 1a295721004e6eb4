"""Doors of the bench: the line of stages, what a batch's bench needs, what to take, what fits."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.runs.api.shapes import BatchOut, EntryOut
from batches.runs.selectors.benches import bench_sheet
from batches.runs.selectors.proposals import batch_measure
from batches.runs.selectors.stage_line import stage_line
from batches.runs.steps.proposing import fitting_lot, proposal
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import (
    AmountFields,
    AmountSerializer,
    AtField,
    CodeField,
    PiecesField,
)
from shopfloor.units import to_base

DAYS = 14
DAYS_MAX = 400
LOTS_LENGTH_MAX = 4_000
LOTS_MAX = 200


class LineAskSerializer(serializers.Serializer[Any]):
    """Over how many days."""

    days = PiecesField(
        min_value=1, max_value=DAYS_MAX, default=DAYS, help_text="Days the yield is taken over."
    )


class WaitingOut(serializers.Serializer[Any]):
    """Pieces the shop made that a stage takes next."""

    lots = serializers.IntegerField()
    pieces = serializers.IntegerField(help_text="Those that may be used now.")
    held_pieces = serializers.IntegerField(
        help_text="Held, rejected, waiting for a test, or expired."
    )


class RunningBatchOut(serializers.Serializer[Any]):
    """A batch that runs, or is held."""

    code = serializers.CharField()
    item = serializers.CharField()
    state = serializers.CharField()


class OpenCountsOut(serializers.Serializer[Any]):
    """How many batches are in each state."""

    planned = serializers.IntegerField()
    idle = serializers.IntegerField()
    running = serializers.IntegerField()
    held = serializers.IntegerField()


class LineStageOut(serializers.Serializer[Any]):
    """A stage in the line."""

    code = serializers.CharField()
    name = serializers.CharField()
    is_mixing = serializers.BooleanField()
    waiting = WaitingOut()
    batches = OpenCountsOut()
    running = RunningBatchOut(many=True)
    yield_ratio = serializers.CharField(
        allow_null=True, help_text="Good of all recorded in the last days, 0 to 1."
    )


class StageLineOut(serializers.Serializer[Any]):
    """The stages in use, in the order of the shop."""

    days = serializers.IntegerField()
    stages = LineStageOut(many=True)


class StageLineDoor(Door):
    """The line of stages."""

    roles: ClassVar = {"GET": ANYONE}
    asks = LineAskSerializer
    gives: ClassVar = {"GET": StageLineOut}

    def get(self, request: Request) -> Response:
        """What waits before each, what runs, and the yield of the last days."""
        line = stage_line(days=self.asked()["days"], now=timezone.now())
        return Response(StageLineOut(line).data)


class LotsField(serializers.CharField):
    """`CODE,CODE`: lots that were scanned, in that order."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_blank=True, max_length=LOTS_LENGTH_MAX, **kwargs)

    def run_validation(self, data: Any = serializers.empty) -> Any:
        """The codes."""
        text = super().run_validation(data)
        codes = [CodeField().run_validation(part) for part in text.split(",") if part.strip()]
        if len(codes) > LOTS_MAX:
            raise serializers.ValidationError(f"At most {LOTS_MAX} lots.")
        return codes


class ProposalAskSerializer(AmountFields):
    """For how much, good and scrapped together: pieces (`each`), or so much of a mixture."""

    lots = LotsField(default="", help_text="Lots scanned so far, with commas between.")

    def validate_amount(self, amount: Decimal) -> Decimal:
        """Something."""
        if not amount:
            raise serializers.ValidationError("Give an amount above zero.")
        return amount


class ProposedLotOut(serializers.Serializer[Any]):
    """A lot to take."""

    lot = serializers.CharField()
    item = serializers.CharField()
    amount = AmountSerializer()
    on_hand = AmountSerializer()
    place = serializers.CharField()
    usable_until = AtField(allow_null=True)
    is_scanned = serializers.BooleanField()


class ProposedLineOut(serializers.Serializer[Any]):
    """A line of the bill, and the lots to take for it, in order."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    need = AmountSerializer()
    lots = ProposedLotOut(many=True)
    missing = AmountSerializer(allow_null=True, help_text="What no usable lot covers.")
    mixed_at = serializers.CharField(
        allow_null=True, help_text="The stage that mixes what is missing, if it is a mixture."
    )


class ProposalOut(serializers.Serializer[Any]):
    """What an entry would take now."""

    batch = serializers.CharField()
    has_bill = serializers.BooleanField(
        help_text="A rework has none: it takes exactly the lots named."
    )
    pieces = serializers.IntegerField(help_text="Base units of a mixture.")
    lines = ProposedLineOut(many=True)
    not_taken = serializers.ListField(
        child=serializers.CharField(), help_text="Lots scanned that nothing would be taken of."
    )


class ProposalDoor(Door):
    """What an entry would take now, by the bill and by the lots scanned; nothing is written."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ProposalAskSerializer
    gives: ClassVar = {"GET": ProposalOut}

    def get(self, request: Request, code: str) -> Response:
        """The lots to take, in order."""
        asked = self.asked()
        measure = batch_measure(code.upper())
        pieces = to_base(amount=asked["amount"], unit=asked["unit"], item=measure)
        found = proposal(code.upper(), pieces=pieces, lots=asked["lots"], at=timezone.now())
        return Response(as_json(found))


class FitsAskSerializer(serializers.Serializer[Any]):
    """Which lot."""

    lot = CodeField()


class FittingLotOut(serializers.Serializer[Any]):
    """A lot that may be used in the batch now."""

    lot = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    on_hand = AmountSerializer()
    place = serializers.CharField()
    usable_until = AtField(allow_null=True)
    goes_before = serializers.CharField(
        allow_null=True, help_text="A lot that ends sooner and should go first."
    )
    says = serializers.CharField(help_text="The same in a sentence.")


class FitsDoor(Door):
    """Whether a lot that was scanned may be used in the batch now; if not, the refusal says why."""

    roles: ClassVar = {"GET": ANYONE}
    asks = FitsAskSerializer
    gives: ClassVar = {"GET": FittingLotOut}

    def get(self, request: Request, code: str) -> Response:
        """The lot."""
        lot_code = self.asked()["lot"]
        return Response(as_json(fitting_lot(code.upper(), lot_code=lot_code, at=timezone.now())))


class BenchReasonOut(serializers.Serializer[Any]):
    """A scrap reason that is possible at the stage."""

    code = serializers.CharField()
    name = serializers.CharField()


class BenchPartOut(serializers.Serializer[Any]):
    """A cavity of a mold, a station of a wheel."""

    code = serializers.CharField()
    number = serializers.IntegerField()


class BenchEquipmentOut(serializers.Serializer[Any]):
    """Equipment in use."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    is_of_stage = serializers.BooleanField(help_text="Used at the stage lately.")
    was_last = serializers.BooleanField(help_text="Used for the item's last entry at the stage.")
    parts = BenchPartOut(many=True)


class BenchFactorOut(serializers.Serializer[Any]):
    """A circumstance that was noted at the stage lately."""

    name = serializers.CharField()
    values = serializers.ListField(
        child=serializers.CharField(), help_text="Those noted last, the newest first."
    )
    today = serializers.CharField(
        allow_null=True, help_text="By the stage's last entry of today that noted any."
    )


class BenchSheetOut(serializers.Serializer[Any]):
    """What the bench needs to record an entry of a batch."""

    batch = BatchOut()
    stage_name = serializers.CharField()
    is_pieces = serializers.BooleanField(help_text="Else it makes a mixture.")
    unit = serializers.CharField()
    left = AmountSerializer(help_text="What is planned and not made.")
    scrap_reasons = BenchReasonOut(many=True)
    equipment = BenchEquipmentOut(many=True)
    factors = BenchFactorOut(many=True)
    entries = EntryOut(many=True, help_text="The latest, newest first.")
    now = AtField()


class BenchSheetDoor(Door):
    """What the bench needs for a batch."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": BenchSheetOut}

    def get(self, request: Request, code: str) -> Response:
        """The batch with its reasons, equipment and latest entries."""
        return Response(as_json(bench_sheet(code.upper(), now=timezone.now())))


urlpatterns = [
    path("stage-line/", StageLineDoor.as_view()),
    path("batches/<str:code>/bench/", BenchSheetDoor.as_view()),
    path("batches/<str:code>/proposal/", ProposalDoor.as_view()),
    path("batches/<str:code>/fits/", FitsDoor.as_view()),
]
