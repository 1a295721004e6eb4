"""What can be wrong with a code that someone typed, scanned or wants printed."""

from __future__ import annotations

from shopfloor.errors import InvalidInputError


class CodeUnreadableError(InvalidInputError):
    """Not one of the codes this shop's records carry."""

    code = "code_unreadable"


class CodeTypoError(InvalidInputError):
    """Looks like one of our codes, but its check character does not fit: a slip of the finger."""

    code = "code_typo"


class WrongKindOfCodeError(InvalidInputError):
    """A good code of ours, but of another kind than the one asked for."""

    code = "wrong_kind_of_code"


class OwnCodeError(InvalidInputError):
    """A code the shop wants to give that could not be printed, typed or told apart."""

    code = "own_code_refused"


class Gs1NumberError(InvalidInputError):
    """Not the digits that a GTIN or SSCC has."""

    code = "gs1_number"


class CheckDigitError(InvalidInputError):
    """The last digit does not fit the others."""

    code = "check_digit"


class ScanUnreadableError(InvalidInputError):
    """Nothing came, or far more than a symbol on a label holds."""

    code = "scan_unreadable"


class SymbolTextError(InvalidInputError):
    """Text that this symbol cannot carry."""

    code = "symbol_text"
