"""What the ledger's doors take and give."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from shopfloor.doors import REASON_LENGTH_MAX, WhenWhySerializer
from shopfloor.fields import (
    AmountFields,
    AmountSerializer,
    AtField,
    CodeField,
    DayField,
    MoneyTextField,
    OptionalAmountFields,
    SignedAmountFields,
)

COUNT_LINES_MAX = 500


class SplitSerializer(AmountFields, WhenWhySerializer):
    """How much becomes a lot of its own, and where, if elsewhere."""

    place = CodeField(required=False, default="")


class PartSerializer(OptionalAmountFields, WhenWhySerializer):
    """The whole lot, or an amount of it."""

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """The amount is the part."""
        attrs = super().validate(attrs)
        if "quantity" in attrs:
            attrs["part"] = attrs.pop("quantity")
        return attrs


class MoveSerializer(PartSerializer):
    """Where to, and how much if not all."""

    place = CodeField()


class DisposeSerializer(AmountFields, WhenWhySerializer):
    """How much is thrown away, and why."""


class AdjustSerializer(SignedAmountFields, WhenWhySerializer):
    """By how much; a minus takes out."""


class ExtendSerializer(WhenWhySerializer):
    """The new expiry; the reason names the test."""

    expires_at = AtField()


class RevalueSerializer(WhenWhySerializer):
    """Value to add, a minus for a credit."""

    value = serializers.CharField(max_length=30)
    document = serializers.CharField(max_length=60, required=False, default="")


class FoundSerializer(serializers.Serializer[Any]):
    """What was found of one lot: an amount, or a weight with the container's."""

    lot = CodeField()
    found = AmountSerializer(required=False)
    expected = AmountSerializer(
        required=False,
        help_text="What the counter was shown: a count of a lot that changed since is refused.",
    )
    gross = AmountSerializer(required=False)
    tare = AmountSerializer(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """An amount, or both weights."""
        if ("found" in attrs) == ("gross" in attrs) or ("tare" in attrs and "gross" not in attrs):
            raise serializers.ValidationError(
                "Give what was found, or its gross weight and the tare."
            )
        return attrs


class CountSerializer(WhenWhySerializer):
    """A count of some lots."""

    lines = serializers.ListField(
        child=FoundSerializer(), allow_empty=False, max_length=COUNT_LINES_MAX
    )


class CloseBooksSerializer(serializers.Serializer[Any]):
    """The last day to close."""

    through = DayField()
    reason = serializers.CharField(
        max_length=REASON_LENGTH_MAX, required=False, allow_blank=True, default=""
    )


class LotOut(serializers.Serializer[Any]):
    """A lot."""

    code = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    place = serializers.CharField()
    owner = serializers.CharField(help_text="Empty: ours.")
    grade = serializers.CharField()
    disposition = serializers.CharField()
    supplier = serializers.CharField(allow_null=True)
    supplier_lot_code = serializers.CharField()
    split_from = serializers.CharField(allow_null=True)
    born_at = AtField()
    expires_at = AtField(allow_null=True)
    opened_at = AtField(allow_null=True)
    discard_at = AtField(allow_null=True)
    on_hand = AmountSerializer()
    value = MoneyTextField()


class HoldOut(serializers.Serializer[Any]):
    """A hold."""

    code = serializers.CharField()
    lot = serializers.CharField()
    reason = serializers.CharField()
    by = serializers.CharField()
    at = AtField()
    released_at = AtField(allow_null=True)
    release_reason = serializers.CharField()
    lots_stopped = serializers.IntegerField()


class HoldPageOut(serializers.Serializer[Any]):
    """A hold and the lots it stopped."""

    hold = HoldOut()
    lots = LotOut(many=True)


class HistoryOut(serializers.Serializer[Any]):
    """A movement or an event of a lot."""

    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    kind = serializers.CharField()
    posting = serializers.CharField(allow_null=True)
    document = serializers.CharField()
    reason = serializers.CharField()
    amount = AmountSerializer(allow_null=True)
    value = MoneyTextField(allow_null=True)
    before = serializers.CharField()
    after = serializers.CharField()


class LotPageOut(serializers.Serializer[Any]):
    """A lot with everything that happened to it."""

    lot = LotOut()
    holds = HoldOut(many=True)
    history = HistoryOut(many=True)


class FreedOut(serializers.Serializer[Any]):
    """Lots that are free again."""

    freed = LotOut(many=True)


class MovementOut(serializers.Serializer[Any]):
    """A signed change to a lot."""

    lot = serializers.CharField()
    item = serializers.CharField()
    amount = AmountSerializer()
    value = MoneyTextField()


class PostingOut(serializers.Serializer[Any]):
    """A posting with its movements."""

    code = serializers.CharField()
    kind = serializers.CharField()
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    document_kind = serializers.CharField()
    document_code = serializers.CharField()
    outside_kind = serializers.CharField()
    outside_value = MoneyTextField()
    reverses = serializers.CharField(allow_null=True)
    reversed_by = serializers.CharField(allow_null=True)
    counted_in = serializers.CharField(
        allow_null=True, help_text="The count whose difference it is."
    )
    movements = MovementOut(many=True)


class CountLineOut(serializers.Serializer[Any]):
    """What was found of a lot, and the difference."""

    lot = serializers.CharField()
    item = serializers.CharField()
    expected = AmountSerializer()
    found = AmountSerializer()
    difference = AmountSerializer()
    value = MoneyTextField()


class CountOut(serializers.Serializer[Any]):
    """A count."""

    code = serializers.CharField()
    at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    posting = serializers.CharField(allow_null=True)
    reversed_by = serializers.CharField(allow_null=True, help_text="The posting that undid it.")
    value = MoneyTextField()
    lines = CountLineOut(many=True)


class PreviewOut(serializers.Serializer[Any]):
    """What a count would change."""

    lines = CountLineOut(many=True)


class BooksOut(serializers.Serializer[Any]):
    """The books are closed through a day."""

    through = serializers.DateField()
