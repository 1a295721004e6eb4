"""What the doors of runs take and give."""

from __future__ import annotations

from typing import Any, TypeVar

from rest_framework import serializers

from batches.runs.selectors.batches import GRADES
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.doors import REASON_LENGTH_MAX, WhenWhySerializer
from shopfloor.fields import (
    Amount,
    AmountFields,
    AmountSerializer,
    AtField,
    CodeField,
    DayField,
    MoneyTextField,
    OptionalAmountFields,
    PiecesField,
)

R = TypeVar("R")

ROWS_MAX = 500
MINUTES_MAX = 100_000


class QuantitySerializer(OptionalAmountFields):
    """Whole pieces, or an amount with its unit (for a mixture)."""

    pieces = PiecesField(required=False, min_value=1)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Pieces, or amount and unit."""
        attrs = super().validate(attrs)
        if ("pieces" in attrs) == ("quantity" in attrs):
            raise serializers.ValidationError("Give pieces, or amount and unit.")
        return attrs


class PlanSerializer(QuantitySerializer):
    """What to make."""

    item = CodeField()
    planned_on = DayField(required=False, allow_null=True, default=None)
    revision = PiecesField(
        required=False, min_value=1, max_value=10**6, allow_null=True, default=None
    )
    rework_stage = CodeField(required=False, default="")
    code = CodeField(max_length=OWN_CODE_LENGTH_MAX, required=False, default="")
    note = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """More than nothing."""
        attrs = super().validate(attrs)
        if "quantity" in attrs and not attrs["quantity"].amount:
            raise serializers.ValidationError({"amount": "This is too little. Plan some."})
        return attrs


class GoodSerializer(QuantitySerializer):
    """Good pieces of one grade."""

    grade = serializers.ChoiceField(choices=GRADES, default=GRADES[0][0])
    equipment = CodeField(required=False, default="")


class ScrapSerializer(QuantitySerializer):
    """Pieces scrapped for one reason."""

    scrap_reason = CodeField()
    equipment = CodeField(required=False, default="")


class UseSerializer(OptionalAmountFields):
    """A lot that was taken; with an amount if it was weighed or counted."""

    lot = CodeField()


class ByProductSerializer(AmountFields):
    """A by-product that was weighed."""

    item = CodeField()

    def to_internal_value(self, data: Any) -> Any:
        """Item and amount."""
        parts = super().to_internal_value(data)
        return {"item": parts["item"], "quantity": Amount(parts["amount"], parts["unit"])}


class FactorSerializer(serializers.Serializer[Any]):
    """A circumstance: shift, humidity."""

    name = serializers.CharField(max_length=40)
    value = serializers.CharField(max_length=60)


class EntrySerializer(WhenWhySerializer):
    """One recording at the bench."""

    good = serializers.ListField(child=GoodSerializer(), max_length=ROWS_MAX, default=list)
    scrap = serializers.ListField(child=ScrapSerializer(), max_length=ROWS_MAX, default=list)
    lots = serializers.ListField(child=UseSerializer(), max_length=ROWS_MAX, default=list)
    by_products = serializers.ListField(child=ByProductSerializer(), max_length=50, default=list)
    equipment = serializers.ListField(child=CodeField(), max_length=100, default=list)
    factors = serializers.ListField(child=FactorSerializer(), max_length=50, default=list)
    minutes = PiecesField(max_value=MINUTES_MAX, required=False, allow_null=True, default=None)
    done_by = serializers.CharField(max_length=40, required=False, default="")
    override_reason = serializers.CharField(
        max_length=REASON_LENGTH_MAX, required=False, allow_blank=True, default=""
    )

    def validate_equipment(self, codes: list[str]) -> list[str]:
        """Each once."""
        return _once(codes, codes)

    def validate_factors(self, factors: list[dict[str, str]]) -> list[dict[str, str]]:
        """Each name once: of two values one would be lost."""
        return _once(factors, [factor["name"] for factor in factors])


def _once(rows: list[R], names: list[str]) -> list[R]:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise serializers.ValidationError(f"Named twice: {', '.join(twice)}.")
    return rows


class ScrapReasonSerializer(serializers.Serializer[Any]):
    """A reason for scrap."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    name = serializers.CharField(max_length=120)
    stage = CodeField(required=False, default="")


class ScrapReasonOut(serializers.Serializer[Any]):
    """A reason for scrap."""

    code = serializers.CharField()
    name = serializers.CharField()
    stage = serializers.CharField(allow_null=True)
    is_active = serializers.BooleanField()


class BatchOut(serializers.Serializer[Any]):
    """A batch with what its standing entries add up to."""

    code = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    stage = serializers.CharField()
    revision = serializers.IntegerField(allow_null=True)
    state = serializers.CharField()
    planned = AmountSerializer()
    planned_on = serializers.DateField(allow_null=True)
    good = AmountSerializer()
    scrapped = AmountSerializer()
    entries = serializers.IntegerField()
    note = serializers.CharField()
    by = serializers.CharField()
    recorded_at = AtField()


class StateOut(serializers.Serializer[Any]):
    """A change of state."""

    before = serializers.CharField()
    after = serializers.CharField()
    at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()


class TallyOut(serializers.Serializer[Any]):
    """Pieces, good of a grade or scrapped for a reason."""

    grade = serializers.CharField()
    scrap_reason = serializers.CharField(allow_null=True)
    equipment = serializers.CharField(allow_null=True)
    amount = AmountSerializer()


class LotAmountOut(serializers.Serializer[Any]):
    """A lot and an amount of it."""

    lot = serializers.CharField()
    item = serializers.CharField()
    amount = AmountSerializer()
    value = MoneyTextField()


class EntryOut(serializers.Serializer[Any]):
    """An entry with what it took and made."""

    code = serializers.CharField()
    batch = serializers.CharField()
    posting = serializers.CharField()
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    done_by = serializers.CharField()
    good = AmountSerializer()
    scrapped = AmountSerializer()
    minutes = serializers.IntegerField(allow_null=True)
    reason = serializers.CharField()
    reversed_by = serializers.CharField(allow_null=True)
    tallies = TallyOut(many=True)
    factors = FactorSerializer(many=True)
    taken = LotAmountOut(many=True)
    made = LotAmountOut(many=True)


class BatchPageOut(serializers.Serializer[Any]):
    """A batch with its states and entries."""

    batch = BatchOut()
    states = StateOut(many=True)
    entries = EntryOut(many=True)


class RecordedOut(serializers.Serializer[Any]):
    """What an entry took and made."""

    code = serializers.CharField()
    batch = serializers.CharField()
    posting = serializers.CharField()
    at = AtField()
    good = AmountSerializer()
    scrapped = AmountSerializer()
    taken = LotAmountOut(many=True)
    made = LotAmountOut(many=True)


class ReversedOut(serializers.Serializer[Any]):
    """An entry that was undone."""

    code = serializers.CharField()
    batch = serializers.CharField()
    reversed_by = serializers.CharField()
