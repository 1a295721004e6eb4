"""What this room's doors take and give."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from batches.packing.operations import Purpose
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.doors import REASON_LENGTH_MAX, WhenWhySerializer
from shopfloor.fields import AtField, CodeField, DayField, MoneyField, PiecesField

LINES_MAX = 500


class WhySerializer(serializers.Serializer[Any]):
    """Why; the audit keeps it."""

    reason = serializers.CharField(
        max_length=REASON_LENGTH_MAX, required=False, allow_blank=True, default=""
    )


class NewCustomerSerializer(serializers.Serializer[Any]):
    """A customer."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    name = serializers.CharField(max_length=120)
    address = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")


class CustomerChangeSerializer(serializers.Serializer[Any]):
    """What changes of a customer."""

    name = serializers.CharField(max_length=120, required=False)
    address = serializers.CharField(max_length=300, required=False, allow_blank=True)
    is_active = serializers.BooleanField(required=False)


class CustomerOut(serializers.Serializer[Any]):
    """A customer."""

    code = serializers.CharField()
    name = serializers.CharField()
    address = serializers.CharField()
    is_active = serializers.BooleanField()


class NewOrderLineSerializer(serializers.Serializer[Any]):
    """One lure that a customer wants."""

    item = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    pieces = PiecesField(min_value=1)
    price = MoneyField(help_text="For one piece.")
    promised_on = DayField(required=False, allow_null=True, default=None)


class NewOrderSerializer(serializers.Serializer[Any]):
    """What a customer ordered; without a code one is made."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX, required=False, allow_blank=True, default="")
    customer = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    ordered_on = DayField(required=False, allow_null=True, default=None)
    note = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")
    lines = serializers.ListField(
        child=NewOrderLineSerializer(), allow_empty=False, max_length=LINES_MAX
    )


class OrderLineOut(serializers.Serializer[Any]):
    """A line of an order; pieces."""

    line = serializers.IntegerField(source="position")
    item = serializers.CharField()
    item_name = serializers.CharField()
    ordered = serializers.IntegerField()
    shipped = serializers.IntegerField()
    open = serializers.IntegerField()
    price = MoneyField(source="price_micro")
    promised_on = serializers.DateField(allow_null=True)
    is_closed = serializers.BooleanField()


class OrderOut(serializers.Serializer[Any]):
    """A customer's order."""

    code = serializers.CharField()
    customer = serializers.CharField()
    customer_name = serializers.CharField()
    ordered_on = serializers.DateField()
    state = serializers.CharField(help_text="open, closed or cancelled.")
    note = serializers.CharField()
    by = serializers.CharField()
    recorded_at = AtField()
    lines = OrderLineOut(many=True)


class ContentSerializer(serializers.Serializer[Any]):
    """A lot, and how many pieces of it if not all."""

    lot = CodeField()
    pieces = PiecesField(min_value=1, required=False, allow_null=True, default=None)


class ContentsSerializer(WhenWhySerializer):
    """What goes in."""

    contents = serializers.ListField(
        child=ContentSerializer(), allow_empty=False, max_length=LINES_MAX
    )


class NewBoxSerializer(WhenWhySerializer):
    """A new box; without a code one is made, without contents it is empty."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX, required=False, allow_blank=True, default="")
    # A declared field never becomes the attribute of that name.
    parent = CodeField(  # type: ignore[assignment]
        max_length=OWN_CODE_LENGTH_MAX, required=False, allow_blank=True, default=""
    )
    contents = serializers.ListField(
        child=ContentSerializer(), required=False, default=list, max_length=LINES_MAX
    )


class SsccsSerializer(WhySerializer):
    """The boxes that want one."""

    boxes = serializers.ListField(
        child=CodeField(max_length=OWN_CODE_LENGTH_MAX), allow_empty=False, max_length=100
    )


class TakeOutSerializer(ContentsSerializer):
    """What comes out, and where it goes."""

    place = CodeField(max_length=OWN_CODE_LENGTH_MAX)


class PutInSerializer(WhySerializer):
    """The box it is put in; null: it stands alone."""

    # A declared field never becomes the attribute of that name.
    parent = CodeField(  # type: ignore[assignment]
        max_length=OWN_CODE_LENGTH_MAX, allow_null=True
    )


class ContentOut(serializers.Serializer[Any]):
    """A lot in a box, or one that left in it."""

    lot = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    model = serializers.CharField(allow_null=True)
    model_name = serializers.CharField(allow_null=True)
    colorway = serializers.CharField(allow_null=True)
    colorway_name = serializers.CharField(allow_null=True)
    pieces = serializers.IntegerField()
    grade = serializers.CharField()
    disposition = serializers.CharField()
    expires_at = AtField(allow_null=True)


class BoxOut(serializers.Serializer[Any]):
    """A box: the lots in it, the boxes in it, and the pieces in all of them."""

    code = serializers.CharField()
    state = serializers.CharField(help_text="open, closed or shipped.")
    # A declared field never becomes the attribute of that name.
    parent = serializers.CharField(  # type: ignore[assignment]
        allow_null=True, help_text="The box it stands in."
    )
    packed_at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    pieces = serializers.IntegerField()
    lots = ContentOut(many=True)
    boxes = serializers.ListField(child=serializers.CharField())
    shipment = serializers.CharField(allow_null=True, help_text="The shipment it left with.")
    sscc = serializers.CharField(allow_null=True, help_text="Its number with carriers, if any.")


class SsccOut(serializers.Serializer[Any]):
    """The SSCC of a box, 18 digits."""

    box = serializers.CharField()
    sscc = serializers.CharField()


class SsccsOut(serializers.Serializer[Any]):
    """SSCCs of boxes, in the order asked."""

    ssccs = SsccOut(many=True)


class LooseLotSerializer(ContentSerializer):
    """A lot that leaves in no box of ours."""

    price = MoneyField(required=False, allow_null=True, default=None, help_text="For one piece.")
    purpose = serializers.ChoiceField(
        choices=Purpose.choices, required=False, allow_null=True, default=None
    )


class PriceSerializer(serializers.Serializer[Any]):
    """What one piece of an item costs this time."""

    item = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    price = MoneyField(help_text="For one piece.")
    purpose = serializers.ChoiceField(
        choices=Purpose.choices, required=False, allow_null=True, default=None
    )


class NewShipmentSerializer(WhenWhySerializer):
    """What leaves: closed boxes with all in them, and loose lots."""

    customer = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    order = CodeField(max_length=OWN_CODE_LENGTH_MAX, required=False, allow_blank=True, default="")
    carrier = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    purpose = serializers.ChoiceField(choices=Purpose.choices, required=False, default=Purpose.SALE)
    boxes = serializers.ListField(
        child=CodeField(max_length=OWN_CODE_LENGTH_MAX),
        required=False,
        default=list,
        max_length=LINES_MAX,
    )
    lots = serializers.ListField(
        child=LooseLotSerializer(), required=False, default=list, max_length=LINES_MAX
    )
    prices = serializers.ListField(
        child=PriceSerializer(), required=False, default=list, max_length=LINES_MAX
    )


class ShipmentLineOut(serializers.Serializer[Any]):
    """A lot that left."""

    lot = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    box = serializers.CharField(allow_null=True)
    order_line = serializers.IntegerField(allow_null=True)
    pieces = serializers.IntegerField()
    returned = serializers.IntegerField()
    price = MoneyField(source="price_micro")
    purpose = serializers.ChoiceField(choices=Purpose.choices)


class ShipmentOut(serializers.Serializer[Any]):
    """A shipment: what the customer pays for it and the direct material in it."""

    code = serializers.CharField()
    customer = serializers.CharField()
    customer_name = serializers.CharField()
    order = serializers.CharField(allow_null=True)
    carrier = serializers.CharField()
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    reversed_by = serializers.CharField(allow_null=True, help_text="The posting that undid it.")
    price = MoneyField(source="price_micro")
    cost = MoneyField(source="cost_micro")
    lines = ShipmentLineOut(many=True)


class BackSerializer(serializers.Serializer[Any]):
    """Pieces of a shipped lot that come back."""

    lot = CodeField()
    pieces = PiecesField(min_value=1)


class NewReturnSerializer(WhenWhySerializer):
    """What comes back of a shipment, where it is put and why it came."""

    shipment = CodeField()
    place = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    lines = serializers.ListField(child=BackSerializer(), allow_empty=False, max_length=LINES_MAX)
    complaint = CodeField(
        required=False, allow_blank=True, default="", help_text="That it comes back for."
    )


class ReturnLineOut(serializers.Serializer[Any]):
    """Pieces of a lot that came back."""

    lot = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    place = serializers.CharField(help_text="Where the lot stands now.")
    pieces = serializers.IntegerField()


class ReturnOut(serializers.Serializer[Any]):
    """What came back in one go, quarantined, and the direct material in it."""

    posting = serializers.CharField()
    shipment = serializers.CharField()
    complaint = serializers.CharField(allow_null=True)
    customer = serializers.CharField()
    customer_name = serializers.CharField()
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    reversed_by = serializers.CharField(allow_null=True)
    cost = MoneyField(source="cost_micro")
    lines = ReturnLineOut(many=True)
