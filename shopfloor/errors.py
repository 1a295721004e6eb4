"""The small family of refusals that a person can act on; leaves live in the room of their rule.

No Django here: `shopfloor/problems.py` alone turns these into answers.
"""

from __future__ import annotations

from typing import ClassVar


class ShopError(Exception):
    """A refusal: nothing was written, and the person is told why and what to do.

    Attributes:
        code: Stable word for programs, in `docs/api.md`.
        status: HTTP status of the answer.
        detail: One or two sentences: what is wrong and what to do.
        facts: JSON-ready values behind the sentence, by name.
    """

    code: ClassVar[str] = "refused"
    status: ClassVar[int] = 400

    def __init__(self, detail: str, **facts: object) -> None:
        super().__init__(detail)
        self.detail = detail
        self.facts = facts


class InvalidInputError(ShopError):
    """A value that cannot be meant: the facts name it."""

    code = "invalid_input"
    status = 422


class NotFoundError(ShopError):
    """No such thing here."""

    code = "not_found"
    status = 404


class NotAllowedError(ShopError):
    """This person's role may not do this."""

    code = "not_allowed"
    status = 403


class ConflictError(ShopError):
    """The request makes sense, but not in the present state of the shop."""

    code = "conflict"
    status = 409


class UsernameTakenError(ConflictError):
    """Somebody has that sign-in name."""

    code = "username_taken"


class PasswordWeakError(InvalidInputError):
    """A password that is easily guessed; the facts say why."""

    code = "password_weak"


class PasswordWrongError(InvalidInputError):
    """The present password was not the one given."""

    code = "password_wrong"


class LastOwnerError(ConflictError):
    """The shop would be left without an owner who can sign in."""

    code = "last_owner"


class PersonBlankedError(ConflictError):
    """The name was blanked; the person does not come back."""

    code = "person_blanked"


class PersonShutOutError(ConflictError):
    """The person may not sign in, so nothing is made that would let them in."""

    code = "person_shut_out"


class ShopHasPeopleError(ConflictError):
    """The first owner is made only while there is nobody."""

    code = "shop_has_people"
