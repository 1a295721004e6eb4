"""Which application identifiers go together, over all symbols on one thing.

A box may carry (00) in one symbol and (02) with (37) in another: only together do they say what is
in which box.
"""

from __future__ import annotations

from shopfloor.codes.errors import Gs1PartnersError
from shopfloor.codes.gs1.elements import Element, ElementString, repeated
from shopfloor.codes.gs1.identifiers import Identifier
from shopfloor.codes.gs1.numbers import refuse_restricted
from shopfloor.codes.gs1.values import label_of

_UNIQUE_NUMBERS = ("00", "01", "02", "03")


def check_together(*symbols: ElementString) -> None:
    """Refuse what may not be printed on one thing together.

    Raises:
        Gs1RepeatedError: two values of one identifier.
        Gs1PartnersError: one that another excludes, or one without another that it needs.
        RestrictedNumberError: a number of restricted circulation as GTIN or SSCC.
    """
    on_thing: dict[str, Element] = {}
    for symbol in symbols:
        for element in symbol.elements:
            other = on_thing.setdefault(element.ai, element)
            if other.value != element.value:
                raise repeated(other, element)
    for element in on_thing.values():
        _refuse_excluded(element.identifier, on_thing)
        _refuse_lonely(element.identifier, on_thing)
        if element.ai in _UNIQUE_NUMBERS:
            refuse_restricted(element.value)


def _refuse_excluded(identifier: Identifier, on_thing: dict[str, Element]) -> None:
    for ai, other in on_thing.items():
        if ai != identifier.code and any(_is_meant(ai, name) for name in identifier.excludes):
            raise Gs1PartnersError(
                f"{label_of(identifier)} and {label_of(other.identifier)} may not be on one thing. "
                "Leave one out.",
                ai=identifier.code,
                excludes=ai,
            )


def _refuse_lonely(identifier: Identifier, on_thing: dict[str, Element]) -> None:
    for group in identifier.needs:
        if not any(_stand(way, on_thing) for way in group):
            ways = [" and ".join(f"({ai})" for ai in way) for way in group]
            raise Gs1PartnersError(
                f"{label_of(identifier)} needs {' or '.join(ways)} on the same thing. Add it, or "
                "leave this one out.",
                ai=identifier.code,
                needs=[list(way) for way in group],
            )


def _stand(way: tuple[str, ...], on_thing: dict[str, Element]) -> bool:
    return all(any(_is_meant(ai, name) for ai in on_thing) for name in way)


def _is_meant(ai: str, name: str) -> bool:
    """Whether an identifier is the one named; in a name, `n` stands for any digit."""
    return len(ai) == len(name) and all(
        letter in {digit, "n"} for digit, letter in zip(ai, name, strict=True)
    )
