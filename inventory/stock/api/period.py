"""Doors for who keeps the books: the postings of a period, and the stock of a day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from django.conf import settings
from django.http.response import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.stock.selectors.books import (
    Period,
    book_lines,
    books_head,
    line_rows,
    stock_on,
    stock_rows,
)
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, ListDoor, Pages
from shopfloor.fields import (
    AmountSerializer,
    AtField,
    DayField,
    MoneyTextField,
    SignedAmountSerializer,
)
from shopfloor.snapshot import snapshot

NOTE = (
    "A worksheet of direct material at cost. It does not say what is owed, to anybody: "
    "ask a licensed adviser."
)


class PeriodSerializer(serializers.Serializer[Any]):
    """The first and the last day."""

    to = DayField(help_text="The last day.")

    def get_fields(self) -> dict[str, Any]:
        """The parameter `from` is a word of the language, so it cannot be declared above."""
        return {"from": DayField(help_text="The first day."), **super().get_fields()}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Not the wrong way round."""
        if attrs["to"] < attrs["from"]:
            raise serializers.ValidationError({"to": "The last day is before the first."})
        return attrs


class DaySerializer(serializers.Serializer[Any]):
    """A day."""

    on = DayField(help_text="At its end.")


class BookLineOut(serializers.Serializer[Any]):
    """A movement with its posting; in a sheet also what stands before and after them."""

    row = serializers.CharField(help_text="movement; in a sheet also opening, outside, closing.")
    at = AtField(allow_null=True)
    recorded_at = AtField(allow_null=True)
    posting = serializers.CharField(allow_null=True)
    kind = serializers.CharField()
    document_kind = serializers.CharField()
    document_code = serializers.CharField()
    outside_kind = serializers.CharField()
    reverses = serializers.CharField(allow_null=True)
    reversed_by = serializers.CharField(allow_null=True)
    by = serializers.CharField()
    reason = serializers.CharField()
    lot = serializers.CharField()
    item = serializers.CharField()
    item_name = serializers.CharField()
    amount = SignedAmountSerializer(allow_null=True)
    value = MoneyTextField()


class StockOut(serializers.Serializer[Any]):
    """What we held of an item."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    kind = serializers.CharField()
    on_hand = AmountSerializer()
    value = MoneyTextField()


_DAY = {"type": "string", "format": "date"}
_MONEY = {"type": "string", "format": "decimal"}
_HEAD_MEMBERS: Mapping[str, Any] = {
    "from": _DAY,
    "to": _DAY,
    "closed_through": {"type": ["string", "null"], "format": "date"},
    "is_final": {"type": "boolean", "description": "The books are closed to its last day."},
    "currency": {"type": "string"},
    "note": {"type": "string"},
    "opening_value": _MONEY,
    "outside": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {
                "outside_kind": {"type": "string"},
                "postings": {"type": "integer"},
                "posted": _MONEY,
                "undone": {**_MONEY, "description": "Of it, by reversals."},
                "value": {**_MONEY, "description": "Both together."},
            },
            "required": ["outside_kind", "postings", "posted", "undone", "value"],
        },
    },
    "closing_value": {**_MONEY, "description": "Opening value and the values outside, together."},
}


class BooksPages(Pages):
    """A page below the sums of its period."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """What the description says of both."""
        described = super().get_paginated_response_schema(schema)
        described["properties"] = {**_HEAD_MEMBERS, **described["properties"]}
        described["required"] = [*_HEAD_MEMBERS, *described.get("required", [])]
        return described


class BooksDoor(ListDoor):
    """The books of a period: opening stock value, every movement, sums by kind, closing value.

    A worksheet of direct material at cost; ask a licensed adviser.
    """

    roles: ClassVar = {"GET": ANYONE}
    asks = PeriodSerializer
    gives: ClassVar = {"GET": BookLineOut}
    filter_backends = []  # a part of the lines would not add up
    pagination_class = BooksPages

    def get(self, request: Request, **address: Any) -> HttpResponseBase:
        """Sums and lines of the same moment: a page as JSON, or all of it as CSV or XLSX."""
        with snapshot():
            return super().get(request, **address)

    @property
    def period(self) -> Period:
        """What was asked."""
        asked = self.asked()
        return Period(asked["from"], asked["to"])

    def get_queryset(self) -> Any:
        """Its movements."""
        return book_lines(self.period)

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their postings."""
        return [{"row": "movement", **as_json(row)} for row in line_rows(page)]

    def get_paginated_response(self, data: Any) -> Response:
        """The page, below the sums."""
        period = self.period
        head = books_head(period)
        answer = super().get_paginated_response(data)
        answer.data = {
            "from": period.first,
            "to": period.last,
            "closed_through": head.closed_through,
            "is_final": head.closed_through is not None and period.last <= head.closed_through,
            "currency": settings.SHOP_CURRENCY,
            "note": NOTE,
            "opening_value": head.opening_value,
            "outside": as_json(head.outside),
            "closing_value": head.closing_value,
            **answer.data,
        }
        return answer

    def sheet_name(self) -> str:
        """With the period."""
        return f"{super().sheet_name()}-{self.period.first}-{self.period.last}"

    def sheet_rows(self, listed: Any) -> Iterator[Mapping[str, Any]]:
        """The lines between the opening value, and the sums and the closing value."""
        head = books_head(self.period)
        yield _sum_row("opening", head.opening_value, reason=NOTE)
        yield from super().sheet_rows(listed)
        for outside in head.outside:
            yield _sum_row("outside", outside.value, outside_kind=outside.outside_kind)
        yield _sum_row("closing", head.closing_value)


def _sum_row(row: str, value: str, **more: str) -> Mapping[str, Any]:
    return {**dict.fromkeys(BookLineOut().fields), "row": row, "value": value, **more}


class StockOnDoor(ListDoor):
    """What we held at the end of a past day and what it was worth, by item.

    A worksheet of direct material at cost; ask a licensed adviser.
    """

    roles: ClassVar = {"GET": ANYONE}
    asks = DaySerializer
    gives: ClassVar = {"GET": StockOut}
    filter_backends = []  # whole, or it would not add up to the books

    def get_queryset(self) -> Any:
        """By item."""
        return stock_on(self.asked()["on"])

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows as they are."""
        return [as_json(row) for row in stock_rows(page)]
