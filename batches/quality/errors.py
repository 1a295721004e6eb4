"""What can stand in the way of a check."""

from __future__ import annotations

from typing import Final

from shopfloor.errors import ConflictError, InvalidInputError

NO_DEFINITION: Final = "No check definition has this code. Look at the list of check definitions."


class CheckElsewhereError(ConflictError):
    """The check is not one of what this lot or batch is."""

    code = "check_elsewhere"


class NothingToCheckError(ConflictError):
    """Nothing was made of it that could be checked."""

    code = "nothing_to_check"


class CheckTooLargeError(InvalidInputError):
    """More pieces were tested than were made."""

    code = "check_too_large"


class CheckTooSmallError(InvalidInputError):
    """Fewer pieces were tested than the plan asks for, and none of it failed the lot yet."""

    code = "check_too_small"


class CheckResultUnfitError(InvalidInputError):
    """A result that this kind of check cannot have."""

    code = "check_result_unfit"


class CheckReplacedError(ConflictError):
    """The check was replaced before, or is of something else."""

    code = "check_replaced"


class DefinitionInUseError(ConflictError):
    """Checks stand of it, so what it looks at stays."""

    code = "definition_in_use"
