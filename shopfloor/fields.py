"""Serializer fields every door shares: amounts, numbers, money, codes, scans, days, pieces.

Each refuses what the database could not take or a person could not mean.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final, NamedTuple

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from shopfloor.codes.gs1.elements import FNC1
from shopfloor.codes.scan import SCAN_LENGTH_MAX, SEPARATOR_SIGN
from shopfloor.errors import InvalidInputError
from shopfloor.money import money_text, parse_money
from shopfloor.numerals import parse_number
from shopfloor.units import UNITS, parse_amount

CODE_LENGTH_MAX: Final = 60
PIECES_MAX: Final = 10**9
YEAR_MIN: Final = 2000
YEAR_MAX: Final = 2099

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_PIECES = re.compile(r"[0-9]{1,10}")
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
# RFC 3339, section 5.6: full date, full time, an offset; never local time alone.
_RFC3339 = re.compile(
    r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d{1,6})?([Zz]|[+-]\d\d:\d\d)", re.ASCII
)


class Amount(NamedTuple):
    """An amount as a person wrote it; `shopfloor.units.to_base` needs the item to take it further.

    Attributes:
        amount: Exact, >= 0 unless the field allows less.
        unit: A name in `shopfloor.units.UNITS`.
    """

    amount: Decimal
    unit: str


_UNIT_NAMES: Final = [(name, unit.label) for name, unit in UNITS.items()]
_UNIT_WORDS: Final[dict[str, Any]] = {
    "required": "Choose the unit.",
    "invalid_choice": '"{input}" is no unit here. Use one of: ' + ", ".join(UNITS) + ".",
}


@extend_schema_field({"type": "string", "format": "decimal"})
class NumberField(serializers.Field[Decimal, Any, str, Any]):
    """An exact decimal number as text, `"2.5"`; a JSON number only when whole."""

    default_error_messages = {
        "not_text": 'Write the number as text, like "2.5": a JSON fraction is not exact.'
    }

    def __init__(
        self, *, what: str = "number", allow_negative: bool = False, **kwargs: Any
    ) -> None:
        self.what = what
        self.allow_negative = allow_negative
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        """Read the text."""
        if isinstance(data, bool) or not isinstance(data, str | int):
            self.fail("not_text")
        try:
            return self.parse(str(data))
        except InvalidInputError as error:
            raise serializers.ValidationError(error.detail, code=error.code) from error

    def parse(self, text: str) -> Decimal:
        """The number in the text."""
        return parse_number(text, what=self.what, allow_negative=self.allow_negative)

    def to_representation(self, value: Decimal) -> str:
        """Write it plainly, never as 1E+3."""
        return f"{value:f}"


class _AmountTextField(NumberField):
    def parse(self, text: str) -> Decimal:
        return parse_amount(text, allow_negative=self.allow_negative)


class AmountFields(serializers.Serializer[Any]):
    """An amount and its unit, for a body that has them beside other fields."""

    amount = _AmountTextField(help_text="A decimal number as text, above or equal to zero.")
    unit = serializers.ChoiceField(choices=_UNIT_NAMES, error_messages=_UNIT_WORDS)


class AmountSerializer(AmountFields):
    """`{"amount": "2.5", "unit": "kg"}` and nothing else, validated to an `Amount`."""

    def to_internal_value(self, data: Any) -> Amount:
        """Read both parts."""
        parts = super().to_internal_value(data)
        return Amount(parts["amount"], parts["unit"])


class SignedAmountFields(AmountFields):
    """The same two fields, where an amount below zero can be meant."""

    amount = _AmountTextField(allow_negative=True, help_text="A decimal number as text.")


class SignedAmountSerializer(SignedAmountFields, AmountSerializer):
    """The same, where an amount below zero can be meant."""


class OptionalAmountFields(serializers.Serializer[Any]):
    """Amount and unit, or neither; both are validated to `quantity`, an `Amount`."""

    amount = _AmountTextField(required=False, help_text="A decimal number as text, with its unit.")
    unit = serializers.ChoiceField(choices=_UNIT_NAMES, required=False, error_messages=_UNIT_WORDS)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Amount and unit come together."""
        if ("amount" in attrs) != ("unit" in attrs):
            raise serializers.ValidationError("Give amount and unit, or neither.")
        if "amount" in attrs:
            attrs["quantity"] = Amount(attrs.pop("amount"), attrs.pop("unit"))
        return attrs


@extend_schema_field({"type": "string", "format": "decimal"})
class MoneyField(serializers.Field[int, Any, str, Any]):
    """Money in the shop's currency as text, `"12.50"`; millionths within. At least 0."""

    default_error_messages = {"not_text": 'Write the money as text, like "12.50".'}

    def to_internal_value(self, data: Any) -> int:
        """Read the text, or a whole JSON number."""
        if isinstance(data, bool) or not isinstance(data, str | int):
            self.fail("not_text")
        try:
            return parse_money(str(data))
        except InvalidInputError as error:
            raise serializers.ValidationError(error.detail, code=error.code) from error

    def to_representation(self, value: int) -> str:
        """Write it exactly."""
        return money_text(value)


@extend_schema_field({"type": "string", "format": "decimal"})
class MoneyTextField(serializers.CharField):
    """Money of an answer whose row has it as text already."""


class CodeField(serializers.CharField):
    """A public code: letters, digits, dot, dash, underscore. Upper case, however it was typed."""

    default_error_messages = {
        "code": "A code has no spaces: letters, digits, hyphens and points alone."
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", CODE_LENGTH_MAX)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        """Read and raise to upper case."""
        if not isinstance(data, str):
            self.fail("invalid")
        code = super().to_internal_value(data)
        # Before it is raised: some letters of other scripts become plain capitals.
        if code and not _CODE.fullmatch(code):
            self.fail("code")
        return code.upper()


class ScanField(serializers.CharField):
    """What a scanner typed, as it came; the separator of GS1 data as ASCII 29 or as its sign."""

    def __init__(self, **kwargs: Any) -> None:
        # A scanner may send blanks and control characters around what the symbol holds.
        kwargs.setdefault("max_length", SCAN_LENGTH_MAX + 50)
        super().__init__(trim_whitespace=False, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        """Read it, the separator as its sign."""
        return str(super().to_internal_value(data)).replace(FNC1, SEPARATOR_SIGN)


class AtField(serializers.DateTimeField):
    """A moment as RFC 3339 with an offset; the same moment in UTC comes out."""

    default_error_messages = {
        "not_rfc3339": "Write the moment with its offset, like 2026-05-01T14:30:00Z "
        "or 2026-05-01T09:30:00-05:00.",
        "year": f"The year lies outside {YEAR_MIN} to {YEAR_MAX}.",
    }

    def to_internal_value(self, value: Any) -> datetime:
        """Read it, refusing local time."""
        if not isinstance(value, str) or not _RFC3339.fullmatch(value):
            self.fail("not_rfc3339")
        try:
            moment = datetime.fromisoformat(value.upper())
        except ValueError:
            self.fail("not_rfc3339")
        # Before the change of zone: year 1 less an offset has no datetime.
        if not YEAR_MIN <= moment.year <= YEAR_MAX:
            self.fail("year")
        return moment.astimezone(UTC)

    def to_representation(self, value: datetime | None) -> str | None:  # type: ignore[override]
        """Write it in UTC."""
        if value is None:
            return None
        return rfc3339(value)


class DayField(serializers.DateField):
    """A day as RFC 3339 has it, `2026-05-01`: no other way to write one, in years people mean."""

    default_error_messages = {"not_rfc3339": "Write the day like 2026-05-01."}

    def __init__(self, *, year_max: int = YEAR_MAX, **kwargs: Any) -> None:
        self.year_max = year_max
        super().__init__(**kwargs)

    def to_internal_value(self, value: Any) -> date:
        """Read it."""
        if not isinstance(value, str) or not _DAY.fullmatch(value):
            self.fail("not_rfc3339")
        try:
            day = date.fromisoformat(value)
        except ValueError:
            self.fail("not_rfc3339")
        if not YEAR_MIN <= day.year <= self.year_max:
            raise serializers.ValidationError(
                f"The year lies outside {YEAR_MIN} to {self.year_max}.", code="year"
            )
        return day


def rfc3339(moment: datetime) -> str:
    """An aware moment as the API writes it, in UTC: `2026-05-01T14:30:00Z`."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


class PiecesField(serializers.IntegerField):
    """Whole pieces, 0 to `PIECES_MAX`; never a JSON fraction, not even 3.0, and never true."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", 0)
        kwargs.setdefault("max_value", PIECES_MAX)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> int:
        """Read a JSON integer, or the digits a form sends."""
        is_digits = isinstance(data, str) and _PIECES.fullmatch(data)
        if isinstance(data, bool) or not (isinstance(data, int) or is_digits):
            self.fail("invalid")
        return int(data)
