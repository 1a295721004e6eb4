"""`manage.py verify` holds for a good shop, and finds what is done behind the product's back."""

from __future__ import annotations

from io import StringIO
from typing import Any, NamedTuple

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.models import F, Model

from batches.exchange.selectors.proofs import floor_proofs
from batches.packing.models import Box, CustomerOrder, ShipmentLine
from batches.runs.models import Batch, EntryTally
from inventory.purchasing.models import ReceiptLine, SupplierOrder
from inventory.stock.models import CountLine, Lot, Movement, Posting
from inventory.stock.operations import Found, count_lots
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor import append_only
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches.exchange.conftest import Imports
from tests.batches.exchange.small import CLOCK

pytestmark = pytest.mark.django_db


class Damage(NamedTuple):
    """Rows that are changed behind the product's back, and what verify says of it."""

    name: str
    model: type[Model]
    which: dict[str, Any]
    values: dict[str, Any]
    said: str


DAMAGES = [
    Damage(
        "amount of a lot", Lot, {"code": "RES-1"}, {"on_hand_base": F("on_hand_base") + 1},
        "lot RES-1: on hand 19400001, its movements 19400000",
    ),
    Damage(
        "value of a lot", Lot, {"code": "ADHA-1"}, {"value_micro": F("value_micro") - 7},
        "lot ADHA-1: on hand 485000, its movements 485000; value 29099993, its movements 29100000",
    ),
    Damage(
        "value from outside", Posting, {"receipt__isnull": False},
        {"outside_micro": F("outside_micro") + 5}, "outside 90000005, its movements 90000000",
    ),
    Damage(
        "time of a posting", Posting, {"entry__batch__code": "RG1"},
        {"at": CLOCK.now.replace(month=3, day=2)}, "lot HOOK-1: as low as -",
    ),
    Damage(
        "end of a hold", Lot, {"code": "HOOK-1"}, {"disposition": "released"},
        "lot HOOK-1: is released, its last event says held",
    ),
    Damage(
        "hold without one", Lot, {"code": "RES-1"}, {"disposition": "held"},
        "lot RES-1 is held, which its holds do not say",
    ),
    Damage(
        "scrap", EntryTally, {"scrap_reason__code": "LOST"}, {"qty_base": 2},
        "scrapped 1, its tallies 2",
    ),
    Damage(
        "grade", EntryTally, {"grade": "second"}, {"grade": "sample"},
        "grade sample: good 3, its lots 0",
    ),
    Damage(
        "state of a batch", Batch, {"code": "MD1"}, {"state": "running"},
        "batch MD1: is running, its last event says complete",
    ),
    Damage(
        "line of a receipt", ReceiptLine, {}, {"qty_base": 1999},
        "lot HOOK-1: its line 1999, its movement 2000",
    ),
    Damage(
        "line of a shipment", ShipmentLine, {"purpose": "sample"}, {"qty_base": 3},
        "its line 3, its movement 2",
    ),
    Damage(
        "state of a box", Box, {}, {"state": "closed"},
        "box BX1: is closed, and stands in a shipment",
    ),
    Damage(
        "supplier order", SupplierOrder, {}, {"state": "open"},
        "supplier order PO1: is open, with 0 open lines",
    ),
    Damage(
        "customer order", CustomerOrder, {}, {"state": "closed"},
        "customer order CO1: is closed, with 1 open lines",
    ),
]  # fmt: skip


def verified() -> list[str]:
    out = StringIO()
    call_command("verify", stdout=out)
    return out.getvalue().splitlines()


def differences() -> list[str]:
    """What verify names; its exit code is 1."""
    out = StringIO()
    with pytest.raises(CommandError, match="found") as refused:
        call_command("verify", stdout=out)
    assert refused.value.returncode == 1
    marked = [line for line in out.getvalue().splitlines() if line.startswith("        - ")]
    return [line.removeprefix("        - ") for line in marked]


def change(model: type[Model], which: dict[str, Any], values: dict[str, Any]) -> int:
    """Change rows as no operation would, past the triggers."""
    without_triggers()
    changed = model._default_manager.filter(**which).update(**values)
    connection.check_constraints()
    append_only.install_triggers()
    return changed


def without_triggers() -> None:
    # PostgreSQL drops none while rows of this transaction wait for their foreign keys' check.
    connection.check_constraints()
    append_only.drop_triggers()


def test_verify_says_what_it_compared(small_shop: None) -> None:
    *lines, last = verified()
    titles = [proof.title for proof in (*ledger_proofs(), *floor_proofs())]
    assert [line.partition(" (")[0] for line in lines] == [f"holds   {title}" for title in titles]
    assert "holds   Each batch is in the state that its last event says (4 compared)" in lines
    assert last == "Everything that can be computed twice comes out the same."


def test_verify_holds_for_an_empty_shop(db: None) -> None:
    assert verified()[-1] == "Everything that can be computed twice comes out the same."


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.name)
def test_verify_finds_what_was_changed(small_shop: None, damage: Damage) -> None:
    assert change(damage.model, damage.which, damage.values) > 0
    assert damage.said in "\n".join(differences())


def test_verify_finds_value_that_no_posting_accounts_for(small_shop: None) -> None:
    posting = Posting.objects.get(entry__batch__code="MX1")
    lot = Lot.objects.get(code="RES-1")
    Movement.objects.create(posting=posting, lot=lot, qty_base=1, value_micro=3)
    found = differences()
    assert f"posting {posting.pk}: outside 0, its movements 3" in found
    assert (
        "lot RES-1: on hand 19400000, its movements 19400001; value 77600000, its movements "
        "77600003" in found
    )


def test_verify_finds_a_posting_without_movements(small_shop: None) -> None:
    stray = Posting.objects.get(entry__batch__code="MX1")
    stray.pk, stray._state.adding = None, True
    stray.save()
    assert differences() == [f"posting {stray.pk}: outside 0, its movements 0"]


def test_verify_finds_a_box_that_was_shipped_and_is_not_empty(small_shop: None) -> None:
    place = Box.objects.get(code="BX1").place_id
    change(Lot, {"code": "RES-1"}, {"place": place})
    assert differences() == ["box BX1: is shipped, and holds lot RES-1"]


def test_verify_finds_a_box_that_stayed_when_the_one_around_it_left(
    small_shop: None, imports: Imports
) -> None:
    imports({"boxes.csv": "box,at,lot,pieces,closed\nBX2,2026-03-05 17:00,batch:RG1,1,no\n"})
    change(Box, {"code": "BX2"}, {"parent": Box.objects.get(code="BX1")})
    assert differences() == ["box BX2: is open, and BX1, in which it stands, is shipped"]


def test_verify_finds_a_count_that_its_posting_does_not_bear_out(
    small_shop: None, owner: User
) -> None:
    stamp = Stamp(by=owner, at=CLOCK.now, now=CLOCK.now, reason="yearly")
    count = count_lots(found=[Found("ADHA-1", 480_000)], stamp=stamp)
    change(CountLine, {}, {"found_base": 470_000})
    assert differences() == [
        f"count {count.code}, lot ADHA-1: differs by -15000, its movement -5000"
    ]


def test_verify_finds_missing_triggers(small_shop: None) -> None:
    without_triggers()
    found = differences()
    append_only.install_triggers()
    assert len(found) == len(append_only.expected_triggers(connection.vendor))
    assert {line.partition(" is ")[2] for line in found} == {"missing or switched off"}
