"""What the doors of recalls take and give."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from batches.packing.api.complaints import ComplaintOut
from batches.recall.selectors.asked import CODES_MAX
from batches.recall.selectors.cases import KINDS
from shopfloor.doors import WhenWhySerializer
from shopfloor.fields import (
    AmountSerializer,
    AtField,
    CodeField,
    DayField,
    PiecesField,
    SignedAmountSerializer,
)


def _codes(words: str) -> serializers.ListField:
    return serializers.ListField(
        child=CodeField(), required=False, default=list, max_length=CODES_MAX, help_text=words
    )


class SuspectSerializer(serializers.Serializer[Any]):
    """What is suspect: at least one code."""

    lots = _codes("Lots, with all they flowed into.")
    batches = _codes("Batches, with all that their lots flowed into.")
    boxes = _codes("Boxes: what is or was in them.")
    equipment = _codes("What entries made that name these or their parts, in the days given.")
    first_on = DayField(required=False, help_text="First day of these entries.")
    last_on = DayField(required=False, help_text="Last day of these entries.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Days with equipment, in order."""
        attrs = super().validate(attrs)
        first_on, last_on = attrs.get("first_on"), attrs.get("last_on")
        if not bool(attrs["equipment"]) == bool(first_on) == bool(last_on):
            raise serializers.ValidationError(
                "With equipment give first_on and last_on; without it, neither."
            )
        if first_on and last_on and first_on > last_on:
            raise serializers.ValidationError({"first_on": "The first day is after the last."})
        return attrs


class RecallSerializer(SuspectSerializer, WhenWhySerializer):
    """A new case: since when, why, from what."""

    kind = serializers.ChoiceField(choices=KINDS)


class NoteSerializer(WhenWhySerializer):
    """What was done or heard, in `reason`; where, and what was destroyed there."""

    customer = CodeField(required=False, default="")
    item = CodeField(required=False, default="")
    destroyed = PiecesField(
        required=False, default=0, help_text="Pieces of the item; needs customer and item."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """An item with its pieces and whose they were."""
        if bool(attrs["destroyed"]) != bool(attrs["item"]) or (
            attrs["destroyed"] and not attrs["customer"]
        ):
            raise serializers.ValidationError(
                "Give customer, item and destroyed together, or neither item nor destroyed."
            )
        return attrs


class BalanceOut(serializers.Serializer[Any]):
    """Where all of an item is: what came in less what went out is free or stopped."""

    item = serializers.CharField()
    name = serializers.CharField()
    received = AmountSerializer()
    made = AmountSerializer()
    parted = SignedAmountSerializer(
        help_text="Split off lots that are not looked at, less what was split off to such lots."
    )
    used = AmountSerializer(help_text="In runs and mixes; what these scrapped was used.")
    disposed = AmountSerializer()
    sent_back = AmountSerializer(help_text="To suppliers.")
    shipped = AmountSerializer()
    returned = AmountSerializer(help_text="By customers.")
    unexplained = SignedAmountSerializer(
        help_text="Not found by counts and adjustments; below zero where more was found."
    )
    free = AmountSerializer(help_text="On hand, released.")
    stopped = AmountSerializer(help_text="On hand, held, rejected or quarantined.")


class RiskLotOut(serializers.Serializer[Any]):
    """Where all of a lot is."""

    lot = serializers.CharField()
    place = serializers.CharField()
    disposition = serializers.CharField()
    born_at = AtField()
    balance = BalanceOut()


class LettersSerializer(serializers.Serializer[Any]):
    """Of which case; of all open ones if none is named."""

    recall = CodeField(required=False)


class LetterOut(serializers.Serializer[Any]):
    """A line of the letter to a customer: what left of an item with one shipment."""

    recall = serializers.CharField(help_text="Empty in a preview.")
    customer = serializers.CharField()
    customer_name = serializers.CharField()
    address = serializers.CharField()
    shipment = serializers.CharField()
    at = AtField()
    item = serializers.CharField()
    name = serializers.CharField()
    boxes = serializers.ListField(child=serializers.CharField())
    lots = serializers.ListField(child=serializers.CharField())
    shipped = AmountSerializer()
    returned = AmountSerializer()


class RiskCustomerOut(serializers.Serializer[Any]):
    """What a customer got of an item, and what of it is still out."""

    customer = serializers.CharField()
    customer_name = serializers.CharField()
    item = serializers.CharField()
    name = serializers.CharField()
    shipped = AmountSerializer()
    returned = AmountSerializer()
    destroyed = AmountSerializer(help_text="There, as the notes say.")
    outstanding = SignedAmountSerializer()


class UnexplainedOut(serializers.Serializer[Any]):
    """Pieces that entries took and no piece accounts for; below zero where too few were taken."""

    item = serializers.CharField()
    amount = SignedAmountSerializer()


class RiskRunOut(serializers.Serializer[Any]):
    """What came of a batch's entries that took something at risk."""

    batch = serializers.CharField()
    stage = serializers.CharField()
    item = serializers.CharField()
    name = serializers.CharField()
    first_at = AtField()
    last_at = AtField()
    good = AmountSerializer()
    scrapped = AmountSerializer()
    unexplained = UnexplainedOut(many=True)


class RiskOut(serializers.Serializer[Any]):
    """Everything at risk, as of now."""

    lots_asked = serializers.ListField(child=serializers.CharField())
    in_short = serializers.CharField(help_text="In a few sentences.")
    items = BalanceOut(many=True)
    customers = RiskCustomerOut(many=True)
    letters = LetterOut(many=True)
    runs = RiskRunOut(many=True)
    lots_in_all = serializers.IntegerField()
    lots = RiskLotOut(many=True)


class RecallOut(serializers.Serializer[Any]):
    """A case."""

    code = serializers.CharField()
    kind = serializers.ChoiceField(choices=KINDS)
    state = serializers.ChoiceField(choices=["open", "closed"])
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    asked = serializers.CharField(help_text="What it began from, in words.")
    lots = serializers.ListField(child=serializers.CharField())
    closed_at = AtField(allow_null=True)
    closed_by = serializers.CharField(allow_null=True)
    conclusion = serializers.CharField()
    minutes = serializers.IntegerField(allow_null=True, help_text="From asked to closed.")


class RecallHoldOut(serializers.Serializer[Any]):
    """A hold that the case placed."""

    hold = serializers.CharField()
    lot = serializers.CharField()
    released_at = AtField(allow_null=True)
    released_by = serializers.CharField(allow_null=True)
    release_reason = serializers.CharField()


class RecallNoteOut(serializers.Serializer[Any]):
    """What was done or heard."""

    at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    customer = serializers.CharField(allow_null=True)
    item = serializers.CharField(allow_null=True)
    destroyed = serializers.IntegerField()


class RecallFigureOut(serializers.Serializer[Any]):
    """A balance as it was when the case was begun or closed."""

    moment = serializers.ChoiceField(choices=["begun", "closed"])
    balance = BalanceOut()


class RecallPageOut(serializers.Serializer[Any]):
    """A whole case; `risk` is as of now, `figures` as of then."""

    recall = RecallOut()
    holds = RecallHoldOut(many=True)
    complaints = ComplaintOut(many=True, help_text="Those that name a lot or a box at risk.")
    notes = RecallNoteOut(many=True)
    figures = RecallFigureOut(many=True)
    risk = RiskOut()
