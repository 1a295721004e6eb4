"""The database refuses people and keys that cannot be."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shopfloor.models import Change, RequestKey, User
from tests.shopfloor.conftest import MONDAY


def refused(constraint: str) -> Any:
    return pytest.raises(IntegrityError, match=constraint)


def test_a_sign_in_name_in_capitals_is_refused(db: None) -> None:
    with refused("username_is_lower_case"), transaction.atomic():
        User.objects.create(username="Olga", display_name="O", role="owner", created_at=MONDAY)


def test_a_role_nobody_knows_is_refused(db: None) -> None:
    with refused("user_role_is_known"), transaction.atomic():
        User.objects.create(username="olga", display_name="O", role="king", created_at=MONDAY)


def test_a_blanked_person_who_may_sign_in_is_refused(owner: User) -> None:
    with refused("blanked_person_cannot_sign_in"), transaction.atomic():
        User.objects.filter(pk=owner.pk).update(blanked_at=MONDAY)


def test_one_person_uses_a_request_key_once(owner: User) -> None:
    row = {"user": owner, "key": "k", "fingerprint": "f", "created_at": MONDAY}
    RequestKey.objects.create(**row)
    with pytest.raises(IntegrityError), transaction.atomic():
        RequestKey.objects.create(**row)


def test_a_person_is_found_however_the_name_was_typed(owner: User) -> None:
    assert User.objects.get_by_natural_key("OlGa") == owner


def test_people_and_changes_are_written_as_what_names_them(owner: User) -> None:
    change = Change.objects.get()
    assert (str(owner), str(change)) == ("Olga Owner", f"shopfloor_user {owner.pk}")
