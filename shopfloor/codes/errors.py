"""What can be wrong with a code that someone typed, scanned or wants printed."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


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


class TwoCodesError(InvalidInputError):
    """Two labels came as one scan: nothing was looked up, scan one again."""

    code = "two_codes"


class SymbolTextError(InvalidInputError):
    """Text that this symbol cannot carry."""

    code = "symbol_text"


class CompanyPrefixError(InvalidInputError):
    """Not a GS1 company prefix that numbers can be made of."""

    code = "company_prefix"


class NoPrefixError(ConflictError):
    """A number of GS1 is wanted, and the shop has no company prefix."""

    code = "no_company_prefix"


class RestrictedNumberError(InvalidInputError):
    """A number of restricted circulation where one that is unique in the world belongs."""

    code = "gs1_number_restricted"


class Gs1TextError(InvalidInputError):
    """Not laid out as application identifiers with their data."""

    code = "gs1_text"


class Gs1IdentifierUnknownError(InvalidInputError):
    """No such application identifier."""

    code = "gs1_identifier_unknown"


class Gs1ValueError(InvalidInputError):
    """Data that its application identifier does not take: length, characters, or a date."""

    code = "gs1_value"


class Gs1PartnersError(InvalidInputError):
    """Application identifiers that may not go together, or one without another that it needs."""

    code = "gs1_partners"


class Gs1RepeatedError(InvalidInputError):
    """An application identifier came twice, with different data."""

    code = "gs1_repeated"


class Gs1LinkError(InvalidInputError):
    """An address that is not a GS1 Digital Link, though it looks like one."""

    code = "gs1_link"


class SymbolSpaceError(InvalidInputError):
    """The space is too small for a symbol that scans."""

    code = "symbol_space"
