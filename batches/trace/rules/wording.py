"""Causes in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from batches.trace.rules.bands import AGE, Exposure
from batches.trace.rules.fourfold import pieces_to_tell

if TYPE_CHECKING:
    from batches.trace.rules.causes import Cause, ExposureTable

RARE: Final = 0.005
"""As rare as the draws can tell."""
NAMED_MAX: Final = 5
RIVALS_MAX: Final = 12
"""A cause beside which more are as likely is too few failures to act on. A rule of ours."""


def cause_sentence(exposure: Exposure, said: ExposureTable, cause: Cause, *, is_only: bool) -> str:
    """How often pieces fail with it and without, and how rarely chance would do that."""
    table = said.table
    is_age = exposure.kind == AGE
    words = (
        f"{'Late in the' if is_age else 'With'} {exposure.words}, {share(table.rate_with)} of the "
        f"pieces failed ({table.failed_with:,} of {table.tested_with:,}); "
        f"{'earlier' if is_age else 'without it'}, "
        f"{share(table.rate_without)} ({table.failed_without:,} of {table.tested_without:,})"
    )
    if said.ratio is not None:
        words += (
            f": {said.ratio.value:.1f} times as often (95 % interval {said.ratio.low:.1f} to "
            f"{said.ratio.high:.1f})"
        )
    if said.left is not None and not is_only:
        words += f", {said.left:.1f} times among pieces alike in the other causes"
    if exposure.together:
        others = _named(exposure.together)
        words += f". It always went together with {others}: the results cannot say which of them"
    return f"{words}. {_chance(cause.chance)}"


def tie_sentence(others: Sequence[Exposure]) -> str:
    """What the results cannot tell it from."""
    return f"The results cannot tell it from {_named(others)}."


def is_too_few(exposure: Exposure, others: Sequence[Exposure]) -> bool:
    """Whether too much explains the failures as well to act on one of it."""
    return len(exposure.together) + len(others) > RIVALS_MAX


def too_few_sentence(exposure: Exposure, others: Sequence[Exposure], said: ExposureTable) -> str:
    """That it might be any of many."""
    table = said.table
    rivals = [*exposure.together, *others]
    return (
        f"Too few failures to say. {table.failed_with:,} of the pieces with {exposure.words} "
        f"failed ({table.failed_without:,} without it), and {len(rivals):,} other things explain "
        f"that as well: {_named(rivals)}. Hold or recall nothing on this alone: test more of these "
        "pieces, or write down which box or lot each complaint is of."
    )


def complaints_sentence(exposure: Exposure, count: int, total: int) -> str:
    """How many of the chosen complaints may be of it."""
    if total == 1:
        return f"The complaint chosen {'may' if count else 'cannot'} be of {exposure.words}."
    words = f"{count:,} of the {total:,} complaints chosen may"
    if not count:
        words = f"None of the {total:,} complaints chosen can"
    return f"{words} be of {exposure.words}."


def nothing_sentence(
    *, failed: int, tested: int, chance: float, nearest: Sequence[Exposure]
) -> str:
    """That nothing stands out, how usual that which does is, and where to look first."""
    if not failed:
        return f"None of {tested:,} pieces failed."
    first = f"Nearest to it comes {nearest[0].words}. " if nearest else ""
    return (
        f"{failed:,} of {tested:,} pieces failed, and nothing that they went through stands out: "
        f"were nothing at fault, something would stand out as far in {chance:.0%} of such times. "
        f"{first}More tested pieces may tell more."
    )


def kinds_sentence(kinds: Sequence[str]) -> str:
    """That several kinds of test found the failures, and how they count together."""
    words = f"{', '.join(kinds[:-1])} and {kinds[-1]}"
    return (
        f"Pieces were tested by {words}. Each of these finds failures at a rate of its own, so it "
        "is compared with itself alone, and a piece counts once for each."
    )


def telling_sentence(exposure: Exposure, other: Exposure, said: ExposureTable) -> str:
    """What would tell two exposures apart."""
    pieces = pieces_to_tell(said.table.rate_with or 1.0)
    return (
        f"To tell {exposure.words} from {other.words}: make {pieces:,} pieces with the first and "
        f"without the second, and test them. If the first is the cause, at least one fails in 19 "
        "of 20 such tests."
    )


def _named(exposures: Sequence[Exposure]) -> str:
    """A few of them, and how many more there are."""
    words = ", ".join(each.words for each in exposures[:NAMED_MAX])
    more = len(exposures) - NAMED_MAX
    return words if more <= 0 else f"{words} and {more:,} more"


def share(rate: float | None) -> str:
    """A failure rate: a small one with a digit more, so that it is not told as none."""
    if rate is None:
        return "none"
    return f"{rate:.1%}" if rate >= 0.001 or not rate else f"{rate:.2%}"  # noqa: PLR2004


def _chance(chance: float) -> str:
    if chance <= RARE:
        return "Chance alone makes something stand out as far in fewer than 1 of 200 such times."
    return f"Chance alone makes something stand out as far in {chance:.1%} of such times."
