"""What the audit keeps of an edit."""

from __future__ import annotations

from shopfloor.audit import audit_change, facts_of
from shopfloor.models import Change, User
from tests.shopfloor.conftest import MONDAY


def test_the_facts_of_a_person_hold_no_name_and_no_password(owner: User) -> None:
    assert facts_of(owner) == {
        "id": owner.pk,
        "role": "owner",
        "is_active": True,
        "created_at": MONDAY,
        "blanked_at": None,
    }


def test_only_the_fields_that_differ_are_kept(owner: User) -> None:
    before = facts_of(owner)
    owner.role = "lead"
    change = audit_change(by=owner, at=MONDAY, row=owner, before=before)
    assert change is not None
    kept = Change.objects.get(pk=change.pk)
    assert (kept.before, kept.after) == ({"role": "owner"}, {"role": "lead"})
    assert (kept.table, kept.row_code, kept.by) == ("shopfloor_user", str(owner.pk), owner)


def test_an_edit_that_changes_nothing_is_not_kept(owner: User) -> None:
    before = Change.objects.count()
    assert audit_change(by=owner, at=MONDAY, row=owner, before=facts_of(owner)) is None
    assert Change.objects.count() == before


def test_a_new_row_has_no_before(owner: User) -> None:
    kept = Change.objects.get()
    assert kept.before is None
    assert kept.after["role"] == "owner"
