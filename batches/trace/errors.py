"""What can stand in the way of a trace."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class NothingToTraceError(ConflictError):
    """Nothing was recorded that could be traced: a batch without entries, a box never filled."""

    code = "nothing_to_trace"


class TraceTooLargeError(InvalidInputError):
    """The answer would have more lots or edges than anybody reads; the facts say how to narrow."""

    code = "trace_too_large"


class StageNeededError(InvalidInputError):
    """The reason is given at several stages, or not at the one named; the facts name its stages."""

    code = "stage_needed"


def too_large(what: str, most: int) -> TraceTooLargeError:
    """The refusal of an answer with more than so many."""
    return TraceTooLargeError(
        f"This trace has more than {most:,} {what}. Ask for one item with item=, for the nearest "
        "with depth=, or begin nearer to what you look for.",
        most=most,
        of=what,
        narrow_by=["item", "depth"],
    )
