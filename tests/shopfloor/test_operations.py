"""Writes about people: the last thing that passes and the first that does not."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axes.models import AccessAttempt

from shopfloor import errors, operations
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import Change, RequestKey, User
from shopfloor.operation import RequestToken
from shopfloor.roles import Role
from shopfloor.selectors import person_named, tokens
from tests.shopfloor.conftest import MONDAY, PASSWORD

Enter = Callable[..., User]


def test_the_first_owner_is_made_only_while_there_is_nobody(owner: User) -> None:
    assert owner.role == Role.OWNER
    with pytest.raises(errors.ShopHasPeopleError):
        operations.create_first_owner(
            username="second", display_name="S", password=PASSWORD, at=MONDAY
        )


def test_a_new_person_signs_in_with_the_password_given(enter: Enter) -> None:
    bench = enter(Role.BENCH)
    assert bench.check_password(PASSWORD)
    assert bench.password != PASSWORD
    assert Change.objects.filter(row_code=str(bench.pk)).count() == 1


def test_a_person_without_a_password_has_none_that_works(owner: User) -> None:
    operations.create_person(
        username="scale", display_name="Scale", role=Role.BENCH, password=None, by=owner, at=MONDAY
    )
    assert not person_named("scale").has_usable_password()


@pytest.mark.parametrize("username", ["a", "a.b_c-9", "x" * 40, "ANNA"])
def test_a_plain_sign_in_name_is_taken_in_lower_case(owner: User, username: str) -> None:
    row = operations.create_person(
        username=username, display_name="A", role=Role.BENCH, password=None, by=owner, at=MONDAY
    )
    assert row.username == username.lower()


@pytest.mark.parametrize("username", ["", "x" * 41, ".a", "a b", "a/b", "zoë", "a\n"])
def test_a_sign_in_name_that_is_no_address_is_refused(owner: User, username: str) -> None:
    with pytest.raises(InvalidInputError):
        operations.create_person(
            username=username, display_name="A", role=Role.BENCH, password=None, by=owner, at=MONDAY
        )


def test_a_sign_in_name_is_given_once(owner: User) -> None:
    with pytest.raises(errors.UsernameTakenError) as refused:
        operations.create_person(
            username="OLGA", display_name="O", role=Role.BENCH, password=None, by=owner, at=MONDAY
        )
    assert refused.value.facts == {"username": "olga"}


def test_a_guessable_password_is_refused_and_nobody_is_entered(owner: User) -> None:
    with pytest.raises(errors.PasswordWeakError) as refused:
        operations.create_person(
            username="b", display_name="B", role=Role.BENCH, password="12345", by=owner, at=MONDAY
        )
    assert "reasons" in refused.value.facts
    assert User.objects.count() == 1


def test_a_role_changes_and_the_audit_says_from_what(enter: Enter, owner: User) -> None:
    bench = enter(Role.BENCH)
    row = operations.change_role(username="bench", role=Role.LEAD, by=owner, at=MONDAY)
    assert row.role == "lead"
    change = Change.objects.filter(row_code=str(bench.pk)).latest("pk")
    assert (change.before, change.after) == ({"role": "bench"}, {"role": "lead"})


def test_the_last_owner_stays_owner(owner: User) -> None:
    with pytest.raises(errors.LastOwnerError):
        operations.change_role(username="olga", role=Role.LEAD, by=owner, at=MONDAY)
    with pytest.raises(errors.LastOwnerError):
        operations.let_sign_in(username="olga", is_active=False, by=owner, at=MONDAY)
    with pytest.raises(errors.LastOwnerError):
        operations.blank_name(username="olga", by=owner, at=MONDAY)
    stays = person_named("olga")
    assert (stays.role, stays.is_active, stays.blanked_at) == ("owner", True, None)


def test_an_owner_steps_down_when_there_is_another(enter: Enter, owner: User) -> None:
    enter(Role.OWNER, username="odette")
    assert (
        operations.change_role(username="olga", role=Role.LEAD, by=owner, at=MONDAY).role == "lead"
    )


def test_a_person_is_shut_out_and_let_in_again(enter: Enter, owner: User) -> None:
    enter(Role.BENCH)
    out = operations.let_sign_in(username="bench", is_active=False, by=owner, at=MONDAY)
    back = operations.let_sign_in(username="bench", is_active=True, by=owner, at=MONDAY)
    assert (out.is_active, back.is_active) == (False, True)


def test_nobody_of_that_name_is_said_so(owner: User) -> None:
    with pytest.raises(NotFoundError):
        operations.change_role(username="nobody", role=Role.LEAD, by=owner, at=MONDAY)


def test_a_new_password_works_and_the_old_one_does_not(enter: Enter, owner: User) -> None:
    enter(Role.BENCH)
    operations.set_password(username="bench", password="nine dry herons", by=owner, at=MONDAY)
    person = person_named("bench")
    assert person.check_password("nine dry herons")
    assert not person.check_password(PASSWORD)
    change = Change.objects.filter(row_code=str(person.pk)).latest("pk")
    assert change.after == {"password": "changed"}


def test_ones_own_password_needs_the_present_one(enter: Enter) -> None:
    bench = enter(Role.BENCH)
    with pytest.raises(errors.PasswordWrongError):
        operations.change_own_password(
            present="wrong", password="nine dry herons", by=bench, at=MONDAY
        )
    operations.change_own_password(
        present=PASSWORD, password="nine dry herons", by=bench, at=MONDAY
    )
    assert person_named("bench").check_password("nine dry herons")


def test_a_token_is_kept_as_a_digest_and_its_last_four_characters(owner: User) -> None:
    issued = operations.issue_token(username="olga", name="scale", by=owner, at=MONDAY)
    kept = tokens().get()
    assert issued.text not in (kept.digest, kept.name, kept.hint)
    assert kept.hint == issued.text[-4:] == issued.row.hint
    assert len(issued.text) >= 43  # 256 bits in base 64


def test_a_revoked_token_stays_revoked_at_its_first_time(owner: User) -> None:
    issued = operations.issue_token(username="olga", name="scale", by=owner, at=MONDAY)
    first = operations.revoke_token(token_id=issued.row.id, by=owner, at=MONDAY)
    again = operations.revoke_token(token_id=issued.row.id, by=owner, at=MONDAY.replace(hour=16))
    assert first.revoked_at == again.revoked_at == MONDAY


def test_an_unknown_token_cannot_be_revoked(owner: User) -> None:
    with pytest.raises(NotFoundError):
        operations.revoke_token(token_id=10**30, by=owner, at=MONDAY)


def test_blanking_takes_the_names_out_of_all_rows_that_name_people(
    enter: Enter, owner: User
) -> None:
    bench = enter(Role.BENCH, username="zoe", display_name="Zoë Zander")
    operations.issue_token(username="zoe", name="zoe's tablet", by=owner, at=MONDAY)
    AccessAttempt.objects.create(username="zoe", failures_since_start=1)
    token = RequestToken(user_id=owner.pk, key="k", fingerprint="f")
    operations.change_role.answering(
        token,
        lambda row: {"lines": [{"by": row.display_name}], "username": row.username, "note": "zoe"},
    )(username="zoe", role=Role.LEAD, by=owner, at=MONDAY)

    row = operations.blank_name(username="zoe", by=owner, at=MONDAY)

    stand_in = f"blanked-{bench.pk}"
    assert (row.username, row.is_active, row.blanked_at) == (stand_in, False, MONDAY)
    assert "zoe" not in row.display_name.lower()
    assert "zoë" not in row.display_name.lower()
    assert not AccessAttempt.objects.exists()
    kept = RequestKey.objects.get(key="k").answer
    assert kept == {"lines": [{"by": stand_in}], "username": stand_in, "note": "zoe"}
    token_row = tokens().get(user=bench)
    assert (token_row.name, token_row.revoked_at) == ("blanked", MONDAY)
    told = [(c.row_code, c.before, c.after) for c in Change.objects.all()]
    # Longer than a token's hint of four random characters, which may read like anything.
    assert "zoe's" not in str(told).lower()
    assert "zander" not in str(told).lower()
    assert "'zoe'" not in str(told).lower()


def test_a_blanked_person_does_not_come_back(enter: Enter, owner: User) -> None:
    bench = enter(Role.BENCH)
    operations.blank_name(username="bench", by=owner, at=MONDAY)
    name = f"blanked-{bench.pk}"
    with pytest.raises(errors.PersonBlankedError):
        operations.let_sign_in(username=name, is_active=True, by=owner, at=MONDAY)
    with pytest.raises(errors.PersonBlankedError):
        operations.issue_token(username=name, name="x", by=owner, at=MONDAY)


@pytest.mark.parametrize("password", ["twelve words", "zwölf Wörter", "☂" * 12, "w" * 128])
def test_a_password_is_any_twelve_characters(owner: User, password: str) -> None:
    operations.set_password(username="olga", password=password, by=owner, at=MONDAY)
    assert person_named("olga").check_password(password)


@pytest.mark.parametrize(
    "password",
    [
        "elevenwords",
        "Olga Owner 1",  # her name
        "password1234",  # among the commonest
        "719283746519",  # digits alone
    ],
)
def test_a_password_is_none_that_is_soon_guessed(owner: User, password: str) -> None:
    with pytest.raises(errors.PasswordWeakError):
        operations.set_password(username="olga", password=password, by=owner, at=MONDAY)
    assert person_named("olga").check_password(PASSWORD)
