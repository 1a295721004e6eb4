"""What the doors of the trace ask and give."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from batches.trace.api.formats import EDGES, MEDIA_TYPES
from batches.trace.selectors import BECAME, DEPTH_MAX, EDGES_MAX, NODES_MAX
from shopfloor.fields import AmountSerializer, AtField, CodeField, NumberField

STARTS = ("lot", "batch", "box")


class QuestionSerializer(serializers.Serializer[Any]):
    """Where the trace begins, and how much of it is wanted."""

    lot = CodeField(required=False)
    batch = CodeField(required=False)
    box = CodeField(required=False)
    item = CodeField(
        required=False,
        help_text="Show only the lots of this item, and those the trace begins with. An answer has "
        f"at most {NODES_MAX} lots and {EDGES_MAX} edges; more is refused as trace_too_large.",
    )
    depth = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=DEPTH_MAX,
        help_text="Go no further than so many postings from the start.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Exactly one start."""
        given = [name for name in STARTS if name in attrs]
        if len(given) != 1:
            raise serializers.ValidationError(
                f"Give exactly one of {', '.join(STARTS)}: the code to begin with. "
                f"Given: {', '.join(given) or 'none'}."
            )
        return attrs


class TraceSerializer(QuestionSerializer):
    """The same, and the format."""

    fold = serializers.ChoiceField(
        required=False,
        choices=["entries", "batches"],
        help_text="Answer only the edges, posting by posting, or only the sums by batch.",
    )

    drawing = serializers.BooleanField(
        default=False,
        help_text="JSON only: drawn as well, as SVG with links, its like parts folded into one.",
    )
    open = serializers.CharField(
        max_length=4000,
        default="",
        help_text="Parts of that drawing to leave open, by commas, as its links name them.",
    )

    format = serializers.ChoiceField(
        required=False,
        choices=list(MEDIA_TYPES),
        help_text="`Accept` says it too; this is stronger.",
    )


ROWS_WORDS = f"Which part of the answer a sheet shows; {EDGES} if nothing is named."


class UpstreamSerializer(TraceSerializer):
    """The same, and which part of the answer a sheet shows."""

    rows = serializers.ChoiceField(
        required=False, choices=[EDGES, "nodes", "batches", "receipts"], help_text=ROWS_WORDS
    )


class DownstreamSerializer(TraceSerializer):
    """The same, and which part of the answer a sheet shows."""

    rows = serializers.ChoiceField(
        required=False,
        choices=[
            *(EDGES, "nodes", "batches", "totals", "whereabouts", "on_hand", "boxes"),
            *("shipments", "scrapped", "account"),
        ],
        help_text=ROWS_WORDS,
    )


class TraceStartOut(serializers.Serializer[Any]):
    """Where the trace begins."""

    kind = serializers.ChoiceField(choices=STARTS)
    code = serializers.CharField()
    lots = serializers.ListField(child=serializers.CharField())
    is_undone = serializers.BooleanField(help_text="The posting that made the lot was reversed.")
    note = serializers.CharField(help_text="What is unusual about it; empty for nothing.")


class TracePartOut(serializers.Serializer[Any]):
    """How much of an amount is meant.

    Of what lies downstream, what came of the start; of what lies upstream, what is in the start.
    """

    by_share = AmountSerializer(
        help_text="What was taken of several lots of one item is spread evenly over what came of "
        "it. To the nearest base unit, after all is added up."
    )
    up_to = AmountSerializer(help_text="At most, however the pieces were picked.")


PART_WORDS = "Null where the trace was cut by a depth: what lies beyond would count too."


class TraceNodeOut(serializers.Serializer[Any]):
    """A lot."""

    code = serializers.CharField()
    item = serializers.CharField()
    kind = serializers.CharField(help_text="Of the item.")
    name = serializers.CharField(help_text="Of the item.")
    grade = serializers.CharField()
    place = serializers.CharField()
    disposition = serializers.CharField()
    supplier = serializers.CharField(allow_null=True)
    supplier_lot_code = serializers.CharField()
    born_at = AtField()
    on_hand = AmountSerializer()
    depth = serializers.IntegerField(help_text="Least number of postings from the start.")
    whole = AmountSerializer(
        help_text="All that ever came in of it, but not again what customers sent back."
    )
    share = NumberField(
        allow_null=True,
        help_text="The part by share of the whole, 0 to 1. Null as the part is, or for a lot that "
        "never was.",
    )
    part = TracePartOut(allow_null=True, help_text=PART_WORDS)


class TraceEdgeOut(serializers.Serializer[Any]):
    """A lot that went into another.

    Amounts are the posting's: what was taken of this lot went into all the lots made there.
    """

    posting = serializers.CharField()
    kind = serializers.CharField()
    at = AtField()
    stage = serializers.CharField(allow_null=True, help_text="Null where it was no entry.")
    batch = serializers.CharField(allow_null=True)
    entry = serializers.CharField(allow_null=True)
    taken_lot = serializers.CharField()
    taken_item = serializers.CharField()
    taken = AmountSerializer()
    made_lot = serializers.CharField(
        allow_null=True, help_text="Null where nothing came of it: all was scrapped."
    )
    made_item = serializers.CharField(allow_null=True)
    made = AmountSerializer(allow_null=True)
    part = TracePartOut(allow_null=True, help_text=f"Of what was taken. {PART_WORDS}")


class TraceItemAmountOut(serializers.Serializer[Any]):
    """An amount of an item."""

    item = serializers.CharField()
    amount = AmountSerializer()


class TraceBatchOut(serializers.Serializer[Any]):
    """A batch with what its entries took and made of the lots of this answer."""

    batch = serializers.CharField()
    stage = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    entries = serializers.IntegerField(help_text="How many of its entries are in this answer.")
    first_at = AtField()
    last_at = AtField()
    taken = TraceItemAmountOut(many=True)
    made = TraceItemAmountOut(many=True)
    scrapped = AmountSerializer(help_text="By these entries, whatever they took.")


class TraceOnHandOut(serializers.Serializer[Any]):
    """What is still ours."""

    item = serializers.CharField()
    place = serializers.CharField()
    disposition = serializers.CharField()
    lots = serializers.IntegerField()
    amount = AmountSerializer()


class TraceBoxAmountOut(serializers.Serializer[Any]):
    """What is in a box, or left in it."""

    box = serializers.CharField()
    state = serializers.CharField()
    shipment = serializers.CharField(allow_null=True)
    item = serializers.CharField()
    amount = AmountSerializer()


class TraceShippedOut(serializers.Serializer[Any]):
    """What left, and what came back of it."""

    shipment = serializers.CharField()
    at = AtField()
    customer = serializers.CharField()
    customer_name = serializers.CharField()
    purpose = serializers.CharField()
    item = serializers.CharField()
    boxes = serializers.ListField(child=serializers.CharField())
    amount = AmountSerializer()
    returned = AmountSerializer()


class TraceScrappedOut(serializers.Serializer[Any]):
    """What was scrapped by the entries that took lots of this answer."""

    batch = serializers.CharField()
    stage = serializers.CharField()
    item = serializers.CharField()
    reason = serializers.CharField()
    reason_name = serializers.CharField()
    amount = AmountSerializer()
    part = TracePartOut(allow_null=True, help_text=PART_WORDS)


class TraceWhereOut(serializers.Serializer[Any]):
    """An amount of a lot and what became of it; those of a lot add up to its whole."""

    lot = serializers.CharField()
    item = serializers.CharField()
    became = serializers.ChoiceField(choices=BECAME)
    amount = AmountSerializer()
    part = TracePartOut(allow_null=True, help_text=PART_WORDS)
    place = serializers.CharField(allow_null=True)
    box = serializers.CharField(allow_null=True)
    shipment = serializers.CharField(allow_null=True)
    customer = serializers.CharField(allow_null=True)
    at = AtField(allow_null=True, help_text="When it left.")


class TraceTotalOut(serializers.Serializer[Any]):
    """What became of all lots of an item in one way, and what of it was scrapped."""

    item = serializers.CharField()
    became = serializers.ChoiceField(choices=BECAME)
    lots = serializers.IntegerField()
    amount = AmountSerializer()
    part = TracePartOut(allow_null=True, help_text=PART_WORDS)


class TraceKindOut(serializers.Serializer[Any]):
    """What came in and went out by one kind of posting."""

    kind = serializers.CharField()
    came_in = AmountSerializer()
    went_out = AmountSerializer()


class TraceAccountOut(serializers.Serializer[Any]):
    """Every base unit of an item: what came in less what went out is on hand."""

    item = serializers.CharField()
    changes = TraceKindOut(many=True)
    on_hand = AmountSerializer()


class TraceReceiptOut(serializers.Serializer[Any]):
    """How a lot came in."""

    receipt = serializers.CharField()
    at = AtField()
    supplier = serializers.CharField()
    supplier_name = serializers.CharField()
    supplier_lot_code = serializers.CharField()
    order = serializers.CharField(allow_null=True)
    delivery_note = serializers.CharField()
    lot = serializers.CharField()
    item = serializers.CharField()
    amount = AmountSerializer()


class TraceOut(serializers.Serializer[Any]):
    """What both directions answer."""

    start = TraceStartOut()
    goes_on = serializers.BooleanField(help_text="Lots lie beyond the depth asked for.")
    nodes = TraceNodeOut(many=True)
    edges = TraceEdgeOut(many=True, allow_null=True)
    batches = TraceBatchOut(many=True, allow_null=True)
    drawing = serializers.CharField(required=False, help_text="Where it was asked for.")


class UpstreamOut(TraceOut):
    """What went in."""

    receipts = TraceReceiptOut(many=True)


class DownstreamOut(TraceOut):
    """Where it went, and where it is now."""

    totals = TraceTotalOut(many=True)
    whereabouts = TraceWhereOut(many=True)
    on_hand = TraceOnHandOut(many=True)
    boxes = TraceBoxAmountOut(many=True)
    shipments = TraceShippedOut(many=True)
    scrapped = TraceScrappedOut(many=True)
    account = TraceAccountOut(many=True)
