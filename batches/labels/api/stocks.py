"""Doors of stock to print on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any, ClassVar, Final

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels import operations, selectors
from batches.labels.rules.stock import MARGIN_UM, UM_PER_INCH, UM_PER_MM
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.fields import CodeField

UM_PER: Final = {"mm": UM_PER_MM, "in": UM_PER_INCH}
LENGTHS: Final = (
    "page_width", "page_height", "label_width", "label_height", "left", "top", "pitch_x", "pitch_y",
    "margin",
)  # fmt: skip


def _length(words: str, **how: Any) -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=9, decimal_places=5, min_value=0, max_value=1000, help_text=words, **how
    )


class LabelStockChangeSerializer(serializers.Serializer[Any]):
    """What changes of a stock; lengths in the unit."""

    unit = serializers.ChoiceField(choices=list(UM_PER), default="mm", help_text="Of the lengths.")
    page_width = _length("Of the sheet; of a roll, of one label.", required=False)
    page_height = _length("Likewise.", required=False)
    label_width = _length("Of one label.", required=False)
    label_height = _length("Likewise.", required=False)
    columns = serializers.IntegerField(required=False, min_value=1, max_value=100)
    rows = serializers.IntegerField(required=False, min_value=1, max_value=100)
    left = _length("From the page's left edge to the first label.", required=False)
    top = _length("From its top edge.", required=False)
    pitch_x = _length("From one label's left edge to the next one's.", required=False)
    pitch_y = _length("From one label's top edge to the next one's.", required=False)
    margin = _length("Kept clear inside each label.", required=False)
    is_active = serializers.BooleanField(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Lengths as micrometers, under the names of the table."""
        um = UM_PER[attrs.pop("unit")]
        return {
            f"{name}_um" if name in LENGTHS else name: _in_um(value, um)
            if name in LENGTHS
            else value
            for name, value in attrs.items()
        }


class NewLabelStockSerializer(LabelStockChangeSerializer):
    """Labels or sheets. Of one label a page, the page is the label."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    label_width = _length("Of one label.")
    label_height = _length("Likewise.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """With what follows from the label where nothing is said."""
        columns = super().validate(attrs)
        width, height = columns["label_width_um"], columns["label_height_um"]
        usual = {
            "page_width_um": width,
            "page_height_um": height,
            "pitch_x_um": width,
            "pitch_y_um": height,
            "margin_um": MARGIN_UM,
        }
        return usual | columns


def _in_um(length: Decimal, um: int) -> int:
    return int((length * um).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


class LabelStockOut(serializers.Serializer[Any]):
    """A stock; lengths in millimeters."""

    code = serializers.CharField()
    is_standing = serializers.BooleanField(help_text="Every shop has it, and nobody changes it.")
    is_active = serializers.BooleanField()
    page_width_mm = serializers.CharField()
    page_height_mm = serializers.CharField()
    label_width_mm = serializers.CharField()
    label_height_mm = serializers.CharField()
    columns = serializers.IntegerField()
    rows = serializers.IntegerField()
    left_mm = serializers.CharField()
    top_mm = serializers.CharField()
    pitch_x_mm = serializers.CharField()
    pitch_y_mm = serializers.CharField()
    margin_mm = serializers.CharField()


def _row(row: selectors.StockRow) -> dict[str, Any]:
    lengths = {
        f"{name}_mm": str(Decimal(getattr(row.stock, f"{name}_um")) / UM_PER_MM) for name in LENGTHS
    }
    return {
        "code": row.stock.name,
        "is_standing": row.is_standing,
        "is_active": row.is_active,
        "columns": row.stock.columns,
        "rows": row.stock.rows,
        **lengths,
    }


def _own(stock: Any) -> dict[str, Any]:
    return _row(
        selectors.StockRow(selectors.stock_of(stock), is_standing=False, is_active=stock.is_active)
    )


class StocksDoor(ListDoor):
    """What papers can be printed on: the standing stock first, then the shop's own."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewLabelStockSerializer}
    gives: ClassVar = {"GET": LabelStockOut, "POST": LabelStockOut}
    filter_backends = []  # they need a queryset

    def listed(self) -> Any:
        """All of it."""
        return selectors.stock_rows()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows in millimeters."""
        return [_row(row) for row in page]

    def post(self, request: Request) -> Response:
        """Enter a stock by its dimensions."""
        columns = self.read()
        return self.once(
            request,
            operations.enter_stock,
            _own,
            code=columns.pop("code"),
            columns=columns,
            by=self.person,
            at=timezone.now(),
        )


class ChangeStockDoor(Door):
    """A stock that lies a little differently."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": LabelStockChangeSerializer}
    gives: ClassVar = {"POST": (200, LabelStockOut)}

    def post(self, request: Request, code: str) -> Response:
        """Change what is named."""
        return self.once(
            request,
            operations.change_stock,
            _own,
            code=code.upper(),
            columns=self.read(),
            by=self.person,
            at=timezone.now(),
        )


urlpatterns = [
    path("label-stocks/", StocksDoor.as_view()),
    path("label-stocks/<str:code>/change/", ChangeStockDoor.as_view()),
]
