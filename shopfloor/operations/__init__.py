"""Writes about people: who there is, what they may do, how they and their programs come in."""

from shopfloor.operations.passwords import change_own_password, set_password
from shopfloor.operations.people import (
    blank_name,
    change_role,
    create_first_owner,
    create_person,
    let_sign_in,
)
from shopfloor.operations.sign_ins import (
    end_sessions,
    note_failed_sign_in,
    note_sign_in,
    note_sign_out,
)
from shopfloor.operations.tokens import IssuedToken, issue_token, revoke_own_token, revoke_token

__all__ = [
    "IssuedToken",
    "blank_name",
    "change_own_password",
    "change_role",
    "create_first_owner",
    "create_person",
    "end_sessions",
    "issue_token",
    "let_sign_in",
    "note_failed_sign_in",
    "note_sign_in",
    "note_sign_out",
    "revoke_own_token",
    "revoke_token",
    "set_password",
]
