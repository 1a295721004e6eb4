"""GS1 Digital Link: an element string as a web address, on whatever host answers it.

`https://HOST/01/GTIN/10/LOT?17=YYMMDD`: a key, its qualifiers in their order, the rest as a query.
What may stand beside what is judged in `partners.py`, as for any symbol.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, quote, unquote, urlsplit

from shopfloor.codes.errors import Gs1LinkError
from shopfloor.codes.gs1.elements import Element, ElementString, as_given
from shopfloor.codes.gs1.identifiers import Identifier, identifiers
from shopfloor.codes.gs1.values import label_of

CANONICAL_STEM: Final = "https://id.gs1.org"
"""GS1's own host, by which two links to the same thing can be told to be the same."""

_DIGITS: Final = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True)
class DigitalLink:
    """A link, taken apart.

    Attributes:
        stem: Scheme, host and the path before the key, without a slash at the end.
        elements: Key, qualifiers and attributes, in that order.
        other: What else the query held, such as a language: names and values.
    """

    stem: str
    elements: ElementString
    other: tuple[tuple[str, str], ...] = ()

    @property
    def canonical(self) -> str:
        """The link on GS1's host with nothing else in it, attributes by their identifiers."""
        return digital_link(self.elements, stem=CANONICAL_STEM)


def digital_link(elements: ElementString, *, stem: str) -> str:
    """The address of an element string.

    Args:
        elements: With one key; in any order.
        stem: `https://HOST`, with a path or without.

    Raises:
        Gs1LinkError: no key, two, or an identifier that may stand in no link of this key; `stem`
            is no web address.
    """
    if not _is_web_address(stem):
        raise Gs1LinkError(
            f"“{stem[:60]}” is not a web address: it begins https:// and a host.", text=stem[:60]
        )
    by_ai = {element.ai: element for element in elements.elements}
    key = _key_of(elements)
    allowed = _qualifiers_within(key.identifier, by_ai)
    path = [key, *(by_ai[ai] for ai in allowed if ai in by_ai)]
    query = sorted(set(by_ai) - {element.ai for element in path})
    for ai in query:
        _refuse_in_query(by_ai[ai].identifier)
    address = "".join(f"/{element.ai}/{quote(element.value, safe='')}" for element in path)
    attributes = "&".join(f"{ai}={quote(by_ai[ai].value, safe='')}" for ai in query)
    return stem.rstrip("/") + address + (f"?{attributes}" if attributes else "")


def read_digital_link(address: str) -> DigitalLink | None:
    """Take a link apart; None when an address is none at all: no key of GS1 in its path.

    Raises:
        Gs1LinkError: a key, but what follows is not its qualifiers in their order.
        Gs1ValueError, CheckDigitError, Gs1RepeatedError, Gs1IdentifierUnknownError: as for any
            element string.
    """
    if not _is_web_address(address):
        return None
    parts = urlsplit(address)
    segments = parts.path.removesuffix("/").split("/")
    start = _key_place(segments)
    if start is None:
        return None
    tail = [unquote(segment) for segment in segments[start:]]
    path = [Element(ai, value) for ai, value in zip(tail[::2], tail[1::2], strict=True)]
    _refuse_order(path)
    attributes, other = _query(parts.query)
    elements = as_given([*path, *attributes])
    stem = f"{parts.scheme.lower()}://{parts.netloc.lower()}{'/'.join(segments[:start])}"
    return DigitalLink(stem=stem, elements=elements, other=other)


def _is_web_address(text: str) -> bool:
    try:
        parts = urlsplit(text)
    except ValueError:
        return False
    return parts.scheme.lower() in {"http", "https"} and bool(parts.hostname)


def _key_place(segments: Sequence[str]) -> int | None:
    """Where the key stands: the first that has only pairs of identifier and data from there on."""
    known = identifiers()
    for place, segment in enumerate(segments):
        tail = segments[place:]
        names = tail[::2]
        is_pairs = len(tail) % 2 == 0 and all(name in known for name in names)
        if segment in known and known[segment].is_key and is_pairs:
            return place
    return None


def _key_of(elements: ElementString) -> Element:
    keys = [element for element in elements.elements if element.identifier.is_key]
    if len(keys) != 1:
        found = " and ".join(label_of(key.identifier) for key in keys) or "none"
        raise Gs1LinkError(
            f"A GS1 Digital Link is about one thing: it needs one key, as (01) or (00). Here: "
            f"{found}.",
            keys=[key.ai for key in keys],
        )
    return keys[0]


def _qualifiers_within(key: Identifier, given: dict[str, Element]) -> tuple[str, ...]:
    """The one sequence of the key's qualifiers that has most of what is given."""
    return max(key.qualifiers, key=lambda way: len(set(way) & set(given)), default=())


def _refuse_order(path: Sequence[Element]) -> None:
    key, *qualifiers = (element.identifier for element in path)
    given = [qualifier.code for qualifier in qualifiers]
    if not any([ai for ai in way if ai in given] == given for way in (*key.qualifiers, ())):
        ways = " or ".join(", ".join(way) for way in key.qualifiers) or "nothing"
        raise Gs1LinkError(
            f"After {label_of(key)} a GS1 Digital Link has {ways}, in this order; here it has "
            f"{', '.join(given)}.",
            key=key.code,
            qualifiers=given,
        )


def _query(query: str) -> tuple[list[Element], tuple[tuple[str, str], ...]]:
    """Attributes, and what is not GS1's: names of digits only are."""
    attributes, other = [], []
    for name, value in parse_qsl(query.replace("+", "%2B"), keep_blank_values=True):
        if _DIGITS.fullmatch(name):
            element = Element(name, value)
            _refuse_in_query(element.identifier)
            attributes.append(element)
        else:
            other.append((name, value))
    return attributes, tuple(other)


def _refuse_in_query(identifier: Identifier) -> None:
    if identifier.is_key or not identifier.is_attribute:
        raise Gs1LinkError(
            f"{label_of(identifier)} cannot stand in the query of a GS1 Digital Link. Its place is "
            "the path, behind its key, or another symbol.",
            ai=identifier.code,
        )
