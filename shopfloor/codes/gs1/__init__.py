"""GS1: numbers, application identifiers, element strings and Digital Links. Arithmetic only."""

from shopfloor.codes.gs1.numbers import GTIN_LENGTHS, check_digit, checked_gtin, checked_sscc

__all__ = ["GTIN_LENGTHS", "check_digit", "checked_gtin", "checked_sscc"]
