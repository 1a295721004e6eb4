"""Shapes of what the doors of bills take and give."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from rest_framework import serializers

from batches.bills.selectors.amounts import PerAmount
from batches.bills.selectors.bills import LINE_ROLES, REVISION_STATES
from batches.bills.selectors.costs import SOURCE_KINDS
from batches.bills.steps.lines import AlternativeDraft, LineDraft
from shopfloor.fields import (
    AmountSerializer,
    AtField,
    CodeField,
    MoneyField,
    NumberField,
    PiecesField,
)

NAME_LENGTH_MAX = 120
NOTE_LENGTH_MAX = 300
POSITION_MAX = 10_000
LINES_MAX = 200
ALTERNATIVES_MAX = 20
REVISION_MAX = 10**6


class RatioField(NumberField):
    """A share as a decimal string, `"0.05"`."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(what="share", **kwargs)

    def to_representation(self, value: Decimal) -> str:
        """Without trailing zeros."""
        return f"{value.normalize():f}"


class RevisionNumberField(PiecesField):
    """The number of a revision."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=REVISION_MAX, **kwargs)


class CostField(MoneyField):
    """Exact millionths as money, to the nearest millionth, a half to the even one."""

    def to_representation(self, value: int | Fraction) -> str:
        """A figure to read, not to post."""
        return super().to_representation(round(value))


class StageOut(serializers.Serializer[Any]):
    """A step in how a lure comes to be."""

    code = serializers.CharField()
    name = serializers.CharField()
    position = serializers.IntegerField(help_text="Order in the shop; lower comes first.")
    is_mixing = serializers.BooleanField(help_text="It makes a lot of a mixture, not pieces.")
    place = serializers.CharField(source="place.code", allow_null=True)
    is_active = serializers.BooleanField()


class ChangeStageSerializer(serializers.Serializer[Any]):
    """What may change of a stage; what it makes only while no bill stands at it."""

    name = serializers.CharField(max_length=NAME_LENGTH_MAX, required=False)
    position = PiecesField(max_value=POSITION_MAX, required=False)
    is_mixing = serializers.BooleanField(required=False)
    place = CodeField(required=False, allow_null=True)
    is_active = serializers.BooleanField(required=False)


class NewStageSerializer(ChangeStageSerializer):
    """A new stage."""

    code = CodeField()
    name = serializers.CharField(max_length=NAME_LENGTH_MAX)
    position = PiecesField(max_value=POSITION_MAX)


class PerAmountSerializer(serializers.Serializer[PerAmount]):
    """Takes so much of an item for so much of what is made."""

    takes = AmountSerializer()
    makes = AmountSerializer()

    def to_internal_value(self, data: Any) -> PerAmount:
        """Read both."""
        parts = super().to_internal_value(data)
        return PerAmount(parts["takes"], parts["makes"])


class BillAlternativeSerializer(serializers.Serializer[AlternativeDraft]):
    """An item that may stand in for the line's own."""

    item = CodeField()
    largest_ratio = RatioField(
        default=Decimal(1),
        help_text="Largest share of the line's need, above 0 to 1; for regrind below 1.",
    )

    def to_internal_value(self, data: Any) -> AlternativeDraft:
        """Read both."""
        parts = super().to_internal_value(data)
        return AlternativeDraft(parts["item"], parts["largest_ratio"])


class BillLineSerializer(serializers.Serializer[LineDraft]):
    """A line: what one piece takes or gives off. Pieces may be parts of one: "0.5" each."""

    item = CodeField()
    role = serializers.ChoiceField(choices=LINE_ROLES, default="taken")
    per_piece = AmountSerializer(required=False, allow_null=True)
    per_amount = PerAmountSerializer(
        required=False, allow_null=True, help_text="For a mixture, in place of `per_piece`."
    )
    per_batch = AmountSerializer(
        required=False, allow_null=True, help_text="Once a batch: pot loss, purge, cup."
    )
    loss_ratio = RatioField(
        default=Decimal(0), help_text="Share of the material lost (overspray), 0 to below 1."
    )
    value_ratio = RatioField(
        default=Decimal(0), help_text="By-product only: share of the batch's value, below 1."
    )
    alternatives = BillAlternativeSerializer(  # type: ignore[call-arg]  # the stubs lack max_length
        many=True, max_length=ALTERNATIVES_MAX, default=list, help_text="In order of preference."
    )

    def to_internal_value(self, data: Any) -> LineDraft:
        """Read the parts."""
        parts = super().to_internal_value(data)
        code = parts.pop("item")
        alternatives = tuple(parts.pop("alternatives"))
        return LineDraft(item_code=code, alternatives=alternatives, **parts)


class ChangeRevisionSerializer(serializers.Serializer[Any]):
    """What changes of a draft; `lines` is the whole list."""

    lines = BillLineSerializer(  # type: ignore[call-arg]  # the stubs lack max_length
        many=True, max_length=LINES_MAX, required=False
    )
    scrap_ratio = RatioField(
        required=False, help_text="Pieces lost per piece started, 0 to below 1."
    )
    note = serializers.CharField(max_length=NOTE_LENGTH_MAX, required=False, allow_blank=True)


class NewBillSerializer(ChangeRevisionSerializer):
    """A new bill, with its first draft."""

    item = CodeField()
    stage = CodeField()


class BillStageSerializer(serializers.Serializer[Any]):
    """Where the bill goes."""

    stage = CodeField()


class NewRevisionSerializer(serializers.Serializer[Any]):
    """What to copy: a revision, else the current one, else the newest."""

    copy_of = RevisionNumberField(required=False, allow_null=True)
    note = serializers.CharField(max_length=NOTE_LENGTH_MAX, required=False, allow_blank=True)


class CopyBillSerializer(serializers.Serializer[Any]):
    """What to copy where, and what changes on the way."""

    to_item = CodeField()
    copy_of = RevisionNumberField(required=False, allow_null=True)
    scale_paint = serializers.BooleanField(
        default=True, help_text="Paint and thinner a piece go by the models' painted areas."
    )
    replace = serializers.DictField(
        child=CodeField(), default=dict, help_text="Items of the lines, and what stands for them."
    )


class ShortItemOut(serializers.Serializer[Any]):
    """An item, in short."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()


class BillAlternativeOut(serializers.Serializer[Any]):
    """An item that may stand in for the line's own."""

    item = serializers.CharField(source="item.code")
    name = serializers.CharField(source="item.name")
    largest_ratio = RatioField()


class BillLineOut(serializers.Serializer[Any]):
    """A line; `per_piece` for pieces, `per_amount` for a mixture."""

    item = serializers.CharField(source="item.code")
    name = serializers.CharField(source="item.name")
    kind = serializers.CharField(source="item.kind")
    role = serializers.ChoiceField(choices=LINE_ROLES)
    per_piece = AmountSerializer(allow_null=True)
    per_amount = PerAmountSerializer(allow_null=True)
    per_batch = AmountSerializer()
    loss_ratio = RatioField()
    value_ratio = RatioField()
    alternatives = BillAlternativeOut(many=True)


class RevisionRowOut(serializers.Serializer[Any]):
    """A revision in the list of its bill."""

    number = serializers.IntegerField()
    state = serializers.ChoiceField(choices=REVISION_STATES)
    scrap_ratio = RatioField()
    note = serializers.CharField()
    by = serializers.CharField()
    recorded_at = AtField()
    released_at = AtField(allow_null=True)
    retired_at = AtField(allow_null=True)


class BillOut(serializers.Serializer[Any]):
    """A bill: one revision with its lines, and the list of all."""

    item = ShortItemOut()
    stage = serializers.CharField()
    is_mixing = serializers.BooleanField()
    revision = serializers.IntegerField()
    state = serializers.ChoiceField(choices=REVISION_STATES)
    scrap_ratio = RatioField()
    note = serializers.CharField()
    lines = BillLineOut(many=True)
    revisions = RevisionRowOut(many=True)


class BillRowOut(serializers.Serializer[Any]):
    """A bill in the list."""

    item = ShortItemOut()
    stage = serializers.CharField(source="stage_code")
    current_revision = serializers.IntegerField(source="current_number", allow_null=True)
    released_at = AtField(allow_null=True)
    drafts = serializers.IntegerField()


class DirectUseOut(serializers.Serializer[Any]):
    """A line that takes the item, or may take it in place of its own."""

    per_piece = AmountSerializer(allow_null=True)
    per_amount = PerAmountSerializer(allow_null=True)
    per_batch = AmountSerializer()
    loss_ratio = RatioField()
    stands_for = serializers.CharField(allow_null=True)
    largest_ratio = RatioField(allow_null=True)


class UseOut(serializers.Serializer[Any]):
    """An item that it goes into."""

    item = ShortItemOut()
    stage = serializers.CharField()
    revision = serializers.IntegerField()
    level = serializers.IntegerField(help_text="1 where only its own lines take it.")
    need = PerAmountSerializer(
        help_text="Losses and scrap included, what goes once a batch left out, no alternatives."
    )
    need_at_most = PerAmountSerializer(help_text="With alternatives at their largest shares.")
    direct = DirectUseOut(many=True)
    through = serializers.ListField(child=serializers.CharField())


class WhereUsedOut(serializers.Serializer[Any]):
    """All that an item goes into."""

    item = ShortItemOut()
    uses = UseOut(many=True)


class CostSourceOut(serializers.Serializer[Any]):
    """Where a unit cost comes from."""

    kind = serializers.ChoiceField(choices=SOURCE_KINDS)
    code = serializers.CharField(
        allow_null=True, help_text="The receipt, or the supplier of the offer."
    )


class UnitCostOut(serializers.Serializer[Any]):
    """Cost of an amount."""

    value = CostField()
    per = AmountSerializer()


class CostLineOut(serializers.Serializer[Any]):
    """A row of the cost sheet; its cost includes the rows below it of a higher level."""

    level = serializers.IntegerField()
    item = ShortItemOut()
    need = AmountSerializer()
    unit_cost = UnitCostOut(allow_null=True)
    cost = CostField(allow_null=True)
    source = CostSourceOut()  # type: ignore[assignment]  # only the stubs mind the name


class CostOut(serializers.Serializer[Any]):
    """Material cost of one good piece, or of one display unit of a mixture."""

    item = ShortItemOut()
    revision = serializers.IntegerField(allow_null=True)
    batch = serializers.IntegerField(allow_null=True)
    makes = AmountSerializer()
    cost = CostField(allow_null=True, help_text="Null when the cost of anything in it is unknown.")
    source = CostSourceOut()  # type: ignore[assignment]  # only the stubs mind the name
    unknown = serializers.ListField(child=serializers.CharField())
    lines = CostLineOut(many=True)


class AskCostSerializer(serializers.Serializer[Any]):
    """Which revision, and how large a batch shares what goes once a batch."""

    revision = RevisionNumberField(required=False)
    batch = PiecesField(
        required=False,
        min_value=1,
        help_text="Good pieces (display units of a mixture); without, that is left out.",
    )


class AskCompareSerializer(serializers.Serializer[Any]):
    """Two revisions."""

    a = RevisionNumberField()
    b = RevisionNumberField()


class BillLineChangeOut(serializers.Serializer[Any]):
    """A line that the two revisions have differently."""

    before = BillLineOut()
    after = BillLineOut()


class BillComparisonOut(serializers.Serializer[Any]):
    """What revision `b` has other than `a`."""

    item = ShortItemOut()
    a = serializers.IntegerField()
    b = serializers.IntegerField()
    scrap_ratio_a = RatioField()
    scrap_ratio_b = RatioField()
    added = BillLineOut(many=True)
    dropped = BillLineOut(many=True)
    changed = BillLineChangeOut(many=True)
