"""What the doors of reordering take and give."""

from __future__ import annotations

from datetime import timedelta
from operator import attrgetter
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from inventory.catalog.api.fields import ShownAmountField
from inventory.catalog.api.offers import PriceBreakOut
from inventory.catalog.selectors import shown_amount
from inventory.reorder import selectors
from shopfloor.fields import (
    AmountSerializer,
    CodeField,
    MoneyField,
    NumberField,
    PiecesField,
    SignedAmountSerializer,
)

REVIEW_DAYS_MAX = 366
WEEKS_SHOWN = 13
SEARCH_LENGTH_MAX = 100
LEAD_TIME_SOURCES = ["received", "quoted", "blended"]
SERVICES = ["fill", "cycle"]


@extend_schema_field(AmountSerializer)
class RowAmountField(ShownAmountField):
    """An amount of a line by its name, in the unit people see; null where there is none."""

    def __init__(self, name: str, **kwargs: Any) -> None:
        super().__init__(attrgetter(name), **kwargs)

    def to_representation(self, value: Any) -> Any:
        """The amount, exact."""
        return None if self.qty_base(value) is None else super().to_representation(value)


@extend_schema_field(SignedAmountSerializer)
class RowPositionField(RowAmountField):
    """An amount that may be below zero."""


@extend_schema_field(AmountSerializer)
class RateField(serializers.Field[Any, Any, dict[str, str], Any]):
    """A statistic of a row, in the unit people see of its item, a day."""

    def __init__(self, column: str, **kwargs: Any) -> None:
        self.column = column
        super().__init__(source="*", read_only=True, **kwargs)

    def to_representation(self, value: Any) -> Any:
        """The amount; None without advice."""
        number = getattr(value, self.column)
        if number is None:
            return None
        return {"amount": f"{number:f}", "unit": value.item.display_unit}


@extend_schema_field(serializers.DecimalField(max_digits=4, decimal_places=3))
class ChanceField(serializers.Field[Any, Any, str, Any]):
    """A chance, 0 to 1, to three digits."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(read_only=True, **kwargs)

    def to_representation(self, value: Any) -> str:
        """As a decimal."""
        return f"{value:.3f}"


class NoAdviceOut(serializers.Serializer[Any]):
    """Why no advice can be given, and what a person can do."""

    code = serializers.CharField()
    detail = serializers.CharField()


class OfferUsedOut(serializers.Serializer[Any]):
    """What it would be ordered by: the preferred offer, else the cheapest."""

    supplier = serializers.CharField(source="supplier.code")
    supplier_name = serializers.CharField(source="supplier.name")
    supplier_item_number = serializers.CharField()
    packs_min = serializers.IntegerField()
    lead_time_days = serializers.IntegerField(allow_null=True, help_text="As quoted.")
    is_preferred = serializers.BooleanField()


class OutlookOut(serializers.Serializer[Any]):
    """What happens if it is ordered today, next week, never."""

    short_if_today = ChanceField(help_text="Chance of running out before an order is here.")
    short_if_later = ChanceField(help_text="The same of an order placed in a week.")
    lasts_days = serializers.IntegerField(allow_null=True, help_text="Without any order.")


class ReorderOut(serializers.Serializer[Any]):
    """One item: where it stands, when to order, how much, and why."""

    item = serializers.CharField(source="item.code")
    item_name = serializers.CharField(source="item.name")
    kind = serializers.ChoiceField(source="item.kind", choices=selectors.ITEM_KINDS)
    supplier = serializers.CharField(source="offer.supplier.code", allow_null=True)
    offer = OfferUsedOut(allow_null=True)
    pack = RowAmountField("pack_base", allow_null=True)
    position = RowPositionField(
        "position_base",
        help_text="Usable, in quarantine and on order, less promised and expiring.",
    )
    usable = RowAmountField("usable_base", help_text="Ours, released, good all of today.")
    quarantined = RowAmountField("quarantined_base", help_text="Ours, waiting for its test.")
    expiring = RowAmountField(
        "expiring_base",
        help_text="Of both: expires within lead time and review, before it can be used.",
    )
    on_order = RowAmountField("on_order_base")
    promised = RowAmountField("promised_base")
    use_per_day = RateField("use_per_day", allow_null=True, help_text="Mean of a day.")
    use_per_day_sd = RateField("use_per_day_sd", allow_null=True)
    lead_time_days = NumberField(allow_null=True, help_text="Mean, from order to receipt.")
    lead_time_sd_days = NumberField(allow_null=True)
    lead_time_source = serializers.ChoiceField(choices=LEAD_TIME_SOURCES, allow_null=True)
    safety_stock = RowAmountField("safety_stock_base", allow_null=True)
    reorder_point = RowAmountField("reorder_point_base", allow_null=True)
    is_point_set = serializers.BooleanField(help_text="The reorder point was set by hand.")
    is_due = serializers.BooleanField()
    days_left = serializers.IntegerField(
        allow_null=True, help_text="To the last day to order, 0 today; null without use."
    )
    order_by = serializers.DateField(allow_null=True, help_text="The last day to order.")
    suggested_packs = serializers.IntegerField(allow_null=True, help_text="0 when not due.")
    suggested = RowAmountField("suggested_base", allow_null=True)
    suggested_value = MoneyField(source="suggested_value_micro", allow_null=True)
    outlook = OutlookOut(source="advice.outlook", default=None, allow_null=True)
    no_advice = serializers.SerializerMethodField(help_text="Null when there is advice.")
    in_short = serializers.SerializerMethodField(help_text="Why now or not yet, in a sentence.")
    why = serializers.SerializerMethodField()

    def get_in_short(self, row: Any) -> str:
        """A sentence."""
        return selectors.in_short(row)

    @extend_schema_field(NoAdviceOut(allow_null=True))
    def get_no_advice(self, row: Any) -> dict[str, str] | None:
        """The code and the words."""
        error = row.no_advice
        return None if error is None else {"code": error.code, "detail": error.detail}

    def get_why(self, row: Any) -> list[str]:
        """Sentences with the amounts."""
        return selectors.why(row)


class PolicyOut(serializers.Serializer[Any]):
    """What a person set; null where the default or the computed figure holds."""

    service = serializers.ChoiceField(choices=SERVICES, allow_blank=True)
    service_level = NumberField(allow_null=True)
    review_days = serializers.IntegerField(allow_null=True)
    reorder_point = RowAmountField("reorder_point_base", allow_null=True)
    order_cost = MoneyField(source="order_cost_micro", allow_null=True)
    holding_ratio_per_year = NumberField(allow_null=True)
    room = RowAmountField("room_base", allow_null=True)
    order_value_max = MoneyField(source="order_value_max_micro", allow_null=True)
    is_watched = serializers.BooleanField()


class UseOfDayOut(serializers.Serializer[Any]):
    """What was used on one day."""

    day = serializers.DateField()
    used = AmountSerializer()


class ToComeOut(serializers.Serializer[Any]):
    """What is still to come on an open order line."""

    order = serializers.CharField()
    promised_on = serializers.DateField(allow_null=True)
    amount = AmountSerializer()


class ProjectedOut(serializers.Serializer[Any]):
    """Stock at the end of a day if nothing more is ordered; below zero is owed."""

    on = serializers.DateField()
    mean = SignedAmountSerializer(help_text="At the mean use.")
    low = SignedAmountSerializer(help_text="5 of 100 times it is lower.")
    high = SignedAmountSerializer(help_text="5 of 100 times it is higher.")


class ForecastOut(serializers.Serializer[Any]):
    """What is expected to be used, and how that was told."""

    pattern = serializers.CharField(help_text="Smooth, erratic, intermittent or lumpy.")
    method = serializers.CharField(help_text="Of those tried on the item's past, the best.")
    per_week = serializers.SerializerMethodField(help_text="Of the weeks to come, base units.")

    @extend_schema_field(serializers.ListField(child=serializers.FloatField()))
    def get_per_week(self, forecast: Any) -> list[float]:
        """A quarter of a year."""
        return [round(each, 3) for each in forecast.per_week[:WEEKS_SHOWN].tolist()]


class ReorderPageOut(serializers.Serializer[Any]):
    """One item with every input of its advice."""

    row = ReorderOut()
    is_watched = serializers.BooleanField(help_text="Whether the list has it.")
    policy = PolicyOut(source="row.policy", allow_null=True)
    service = serializers.ChoiceField(source="row.inputs.service", choices=SERVICES)
    service_level = NumberField(source="row.inputs.service_level")
    review_days = serializers.IntegerField(source="row.inputs.review_days")
    order_cost = MoneyField(source="row.inputs.order_cost_micro")
    holding_ratio_per_year = NumberField(source="row.inputs.holding_ratio_per_year")
    shelf_life_days = serializers.IntegerField(source="row.inputs.shelf_life_days", allow_null=True)
    lead_times_days = serializers.ListField(
        source="row.inputs.lead_times_days",
        child=serializers.IntegerField(),
        help_text="Of the latest received order lines, oldest first.",
    )
    lead_time_quoted_days = serializers.IntegerField(
        source="row.inputs.lead_time_quoted_days", allow_null=True
    )
    price_breaks = PriceBreakOut(source="row.inputs.price_breaks", many=True)
    forecast = ForecastOut(source="row.advice.forecast", default=None, allow_null=True)
    not_counted = serializers.SerializerMethodField()
    history_from = serializers.DateField(allow_null=True)
    history_days = serializers.IntegerField()
    use_by_day = serializers.SerializerMethodField(help_text="Other days: nothing.")
    to_come = serializers.SerializerMethodField(help_text="On order, oldest line first.")
    course = serializers.SerializerMethodField(
        help_text="From today on: use as forecast, and what is on order when it was promised. "
        "Empty without advice."
    )

    @extend_schema_field(ToComeOut(many=True))
    def get_to_come(self, page: Any) -> list[dict[str, Any]]:
        """Lines on order."""
        return [
            {
                "order": line.order,
                "promised_on": line.promised_on,
                "amount": _shown(page.row, line.qty_base),
            }
            for line in page.to_come
        ]

    @extend_schema_field(ProjectedOut(many=True))
    def get_course(self, page: Any) -> list[dict[str, Any]]:
        """Days ahead."""
        return [
            {
                "on": (page.row.on + timedelta(days=each.days)).isoformat(),
                "mean": _shown(page.row, each.mean_base),
                "low": _shown(page.row, each.low_base),
                "high": _shown(page.row, each.high_base),
            }
            for each in page.course
        ]

    @extend_schema_field(serializers.DictField(child=AmountSerializer()))
    def get_not_counted(self, page: Any) -> dict[str, Any]:
        """On hand, and not in the position: held, rejected, expired, of others."""
        stock = page.row.stock
        beside = {
            "held": stock.held_base,
            "rejected": stock.rejected_base,
            "expired": stock.expired_base,
            "of_others": stock.others_base,
        }
        return {name: _shown(page.row, qty_base) for name, qty_base in beside.items()}

    @extend_schema_field(UseOfDayOut(many=True))
    def get_use_by_day(self, page: Any) -> list[dict[str, Any]]:
        """Days on which something was used, oldest first."""
        return [
            {"day": each.day.isoformat(), "used": _shown(page.row, each.qty_base)}
            for each in page.used
        ]


class AskSerializer(serializers.Serializer[Any]):
    """Which lines, and in which order."""

    is_due = serializers.BooleanField(allow_null=True, default=None)
    has_advice = serializers.BooleanField(
        allow_null=True, default=None, help_text="False: what a person must look into."
    )
    supplier = CodeField(allow_blank=True, default="", help_text="It would be ordered from.")
    kind = serializers.ChoiceField(choices=selectors.ITEM_KINDS, allow_blank=True, default="")
    search = serializers.CharField(
        max_length=SEARCH_LENGTH_MAX,
        allow_blank=True,
        default="",
        help_text="Words in the item's code or name.",
    )
    ordering = serializers.CharField(
        max_length=SEARCH_LENGTH_MAX,
        allow_blank=True,
        default="",
        help_text=f"{', '.join(selectors.ORDERS)}; a minus before one turns it round.",
    )


class PolicySerializer(serializers.Serializer[Any]):
    """What to set; null clears, what is not named stays."""

    service = serializers.ChoiceField(
        choices=SERVICES,
        required=False,
        allow_null=True,
        help_text="What the level is a share of: of use, or of order cycles without a shortage.",
    )
    service_level = NumberField(
        what="service level", required=False, allow_null=True, help_text="Above 0.5, below 1."
    )
    review_days = PiecesField(
        required=False,
        allow_null=True,
        max_value=REVIEW_DAYS_MAX,
        help_text="Days between two looks at the list.",
    )
    reorder_point = AmountSerializer(
        required=False, allow_null=True, help_text="Stands in place of the computed one."
    )
    order_cost = MoneyField(
        source="order_cost_micro",
        required=False,
        allow_null=True,
        help_text="Of placing and receiving one order.",
    )
    holding_ratio_per_year = NumberField(
        what="holding ratio",
        required=False,
        allow_null=True,
        help_text="Share of the value that a year on the shelf costs.",
    )
    room = AmountSerializer(
        required=False, allow_null=True, help_text="Most that there is room for."
    )
    order_value_max = MoneyField(
        source="order_value_max_micro",
        required=False,
        allow_null=True,
        help_text="Most to spend on one order.",
    )
    is_watched = serializers.BooleanField(required=False, help_text="False: never in the list.")


def _shown(row: Any, qty_base: int) -> dict[str, str]:
    amount = shown_amount(row.item, qty_base)
    return {"amount": f"{amount.amount:f}", "unit": amount.unit}
