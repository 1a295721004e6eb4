"""Rows for the codes that were asked for: in the order asked, or all that are missing at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, TypeVar

from shopfloor.errors import ConflictError, NotFoundError

R = TypeVar("R")

NAMED_MAX: Final = 20
"""Codes that a refusal names in its sentence and its facts; it counts the rest."""


def in_order(found: Mapping[str, R], codes: Sequence[str], *, noun: str, look: str) -> list[R]:
    """The row of each code, in the order asked; one that is asked for twice comes twice.

    Args:
        found: Rows by code.
        codes: As asked.
        noun: What has such a code: `lot`.
        look: Where to find the right code, a sentence.

    Raises:
        NotFoundError: some codes have no row; all of them are named.
    """
    missing = missing_of(codes, found)
    if missing:
        these = "this code" if len(missing) == 1 else f"any of these {len(missing)} codes"
        raise NotFoundError(
            f"No {noun} has {these}: {named(missing)}. {look}",
            codes=missing[:NAMED_MAX],
            missing=len(missing),
        )
    return [found[code] for code in codes]


def refuse_all(
    refusal: Callable[..., ConflictError], codes: Iterable[str], *, why: str, look: str
) -> None:
    """Refuse if there are such codes, and name them.

    Args:
        refusal: The error.
        codes: Those that it is about; none: nothing happens.
        why: What is the matter with them, as in `Not on hold`.
        look: What to do, a sentence.
    """
    refused = list(dict.fromkeys(codes))
    if refused:
        raise refusal(
            f"{why}: {named(refused)}. {look}", codes=refused[:NAMED_MAX], refused=len(refused)
        )


def missing_of(codes: Iterable[str], found: Mapping[str, object]) -> list[str]:
    """Codes without a row, each once, in the order asked."""
    return [code for code in dict.fromkeys(codes) if code not in found]


def named(codes: Sequence[str]) -> str:
    """Codes with commas, and how many more there are."""
    shown = ", ".join(code[:60] for code in codes[:NAMED_MAX])
    more = len(codes) - NAMED_MAX
    return shown if more <= 0 else f"{shown} and {more} more"
