"""What is released never changes: the database refuses every way, and lets a draft be changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import pytest
from django.core.management import call_command
from django.core.management.sql import emit_pre_migrate_signal
from django.db import DatabaseError, connection, models, transaction

from batches.bills.models import BillAlternative, BillLine, BillRevision
from batches.bills.operations import create_revision, release_bill, retire_bill
from shopfloor import append_only
from shopfloor.models import User
from tests.batches.floor import LATER, NOON, draft_bill, instead, line

Way = Callable[[BillRevision], object]


def run(sql: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def saved(row: models.Model, **values: Any) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    row.save()


def of(revision: BillRevision) -> BillLine:
    return revision.lines.get()


def other_of(revision: BillRevision) -> BillAlternative:
    return of(revision).alternatives.get()


def one_more(revision: BillRevision, position: int = 2) -> BillLine:
    return BillLine(revision=revision, position=position, item=revision.bill.item, per_batch_base=1)


REVISION: Final[dict[str, Way]] = {
    "save": lambda r: saved(r, note="other"),
    "update": lambda r: BillRevision.objects.filter(pk=r.pk).update(number=9),
    "bulk_update": lambda r: BillRevision.objects.bulk_update([r], ["scrap_ratio"]),
    "UPDATE": lambda r: run("UPDATE batches_billrevision SET scrap_ratio = 0.5"),
    "UPDATE to a draft": lambda r: run("UPDATE batches_billrevision SET state = 'draft'"),
    "UPDATE of the day": lambda r: run("UPDATE batches_billrevision SET released_at = NULL"),
    "delete": lambda r: r.delete(),
    "DELETE": lambda r: run("DELETE FROM batches_billrevision WHERE id = %s", r.pk),
}
LINE: Final[dict[str, Way]] = {
    "save": lambda r: saved(of(r), per_batch_base=7),
    "update": lambda r: r.lines.update(position=7),
    "bulk_update": lambda r: BillLine.objects.bulk_update([of(r)], ["per_piece_base"]),
    "delete": lambda r: of(r).delete(),
    "delete all": lambda r: r.lines.all().delete(),
    "one more": lambda r: one_more(r).save(),
    "bulk_create": lambda r: BillLine.objects.bulk_create([one_more(r)]),
    "UPDATE": lambda r: run("UPDATE batches_billline SET loss_ratio = 0.5"),
    "DELETE": lambda r: run("DELETE FROM batches_billline"),
}
ALTERNATIVE: Final[dict[str, Way]] = {
    "save": lambda r: saved(other_of(r), rank=7),
    "update": lambda r: of(r).alternatives.update(largest_ratio="0.1"),
    "delete": lambda r: other_of(r).delete(),
    "one more": lambda r: of(r).alternatives.create(rank=2, item=r.bill.item),
    "UPDATE": lambda r: run("UPDATE batches_billalternative SET rank = 7"),
    "DELETE": lambda r: run("DELETE FROM batches_billalternative"),
}
WAYS: Final = [
    pytest.param(way, id=f"{of_what} {name}")
    for of_what, ways in {"revision": REVISION, "line": LINE, "alternative": ALTERNATIVE}.items()
    for name, way in ways.items()
]


@pytest.fixture
def draft(floor_ready: None, lead: User) -> BillRevision:
    """A draft of one line, which has an alternative."""
    resin = line("RESIN", "4 g", alternatives=(instead("REGRIND", "0.2"),))
    draft_bill("HALF-L", "MOLDING", resin, by=lead)
    return BillRevision.objects.get()


@pytest.fixture
def current(draft: BillRevision, lead: User) -> BillRevision:
    release_bill(item_code="HALF-L", number=1, by=lead, at=NOON)
    draft.refresh_from_db()
    return draft


@pytest.fixture
def retired(current: BillRevision, lead: User) -> BillRevision:
    retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    current.refresh_from_db()
    return current


def all_rows() -> list[Any]:
    return [list(model.objects.values()) for model in (BillRevision, BillLine, BillAlternative)]


@pytest.mark.parametrize("state", ["current", "retired"])
@pytest.mark.parametrize("way", WAYS)
def test_what_a_released_revision_says_is_changed_in_no_way(
    request: pytest.FixtureRequest, way: Way, state: str
) -> None:
    revision = request.getfixturevalue(state)
    before = all_rows()
    with (
        pytest.raises(DatabaseError, match="frozen: this row of batches_bill"),
        transaction.atomic(),
    ):
        way(revision)
    assert all_rows() == before


@pytest.mark.parametrize(
    "way",
    [REVISION["save"], LINE["save"], LINE["one more"], ALTERNATIVE["save"], LINE["delete all"]],
)
def test_what_a_draft_says_is_changed(draft: BillRevision, way: Way) -> None:
    before = all_rows()
    way(draft)
    assert all_rows() != before


def test_a_line_does_not_move_from_a_draft_into_what_is_released(
    current: BillRevision, lead: User
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    drafted = BillLine.objects.get(revision__number=2)
    with pytest.raises(DatabaseError, match="frozen"), transaction.atomic():
        saved(drafted, revision=current, position=2)


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("name", ["revision", "line", "alternative"])
def test_what_is_released_is_not_replaced(current: BillRevision, name: str) -> None:
    table = f"batches_bill{name}"
    with pytest.raises(DatabaseError, match="frozen"), transaction.atomic():
        run(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")  # noqa: S608 - our own table


@pytest.mark.only_on("postgresql")
@pytest.mark.parametrize("name", ["revision", "line", "alternative"])
def test_the_tables_are_not_truncated(draft: BillRevision, name: str) -> None:
    run("SET CONSTRAINTS ALL IMMEDIATE")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        run(f"TRUNCATE batches_bill{name} CASCADE")


@pytest.mark.only_on("sqlite")
@pytest.mark.django_db(transaction=True)
def test_a_migration_may_remake_a_table_that_a_trigger_asks() -> None:
    was = BillRevision._meta.get_field("note")
    becomes = models.CharField(max_length=301)
    becomes.set_attributes_from_name("note")
    emit_pre_migrate_signal(verbosity=0, interactive=False, db="default")
    with connection.schema_editor() as editor:
        editor.alter_field(BillRevision, was, becomes)
        editor.alter_field(BillRevision, becomes, was)
    assert append_only.missing_triggers()
    call_command("migrate", verbosity=0)
    assert append_only.missing_triggers() == []
