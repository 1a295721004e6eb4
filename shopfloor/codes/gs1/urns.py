"""Lots and boxes as EPC URIs, the names that events in EPCIS documents use.

They have no check digit and show where the company prefix ends, so its length must be known.
"""

from __future__ import annotations

from urllib.parse import quote

from shopfloor.codes.errors import CompanyPrefixError
from shopfloor.codes.gs1.elements import Element
from shopfloor.codes.gs1.numbers import CompanyPrefix

_KEPT = "!'()*+,-.:;=_"
"""Signs that stay as they are: all of character set 82 but `" % & / < > ?` (common practice, no
source)."""


def lot_urn(*, gtin: str, lot_code: str, prefix: CompanyPrefix) -> str:
    """The name of a lot of an article: `urn:epc:class:lgtin:PREFIX.ITEM.LOT`.

    Args:
        gtin: 14 digits.
        lot_code: As (10) takes it.
        prefix: Of the company whose article it is.

    Raises:
        CompanyPrefixError: the GTIN is not one of the prefix.
        Gs1ValueError, CheckDigitError: not a GTIN, or not a lot code that (10) takes.
    """
    number, lot = Element("01", gtin).value, Element("10", lot_code).value
    return f"urn:epc:class:lgtin:{_split(number, prefix)}.{quote(lot, safe=_KEPT)}"


def box_urn(*, sscc: str, prefix: CompanyPrefix) -> str:
    """The name of a box or pallet: `urn:epc:id:sscc:PREFIX.SERIAL`.

    Raises:
        CompanyPrefixError: the SSCC is not one of the prefix.
        Gs1ValueError, CheckDigitError: not an SSCC.
    """
    return f"urn:epc:id:sscc:{_split(Element('00', sscc).value, prefix)}"


def _split(number: str, prefix: CompanyPrefix) -> str:
    """Prefix, point, the leading digit (indicator or extension), and what follows the prefix."""
    if not number.startswith(prefix.digits, 1):
        raise CompanyPrefixError(
            f"{number} does not belong to the company prefix {prefix.digits}.",
            number=number,
            prefix=prefix.digits,
        )
    rest = number[1 + len(prefix.digits) : -1]
    return f"{prefix.digits}.{number[0]}{rest}"
