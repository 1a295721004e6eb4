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
