"""A program that runs in the environment of a throw-away shop: it furnishes it, or takes stock.

`python -m tests.faults.inside furnish|stock` writes one JSON object. `tests/faults/shops.py` calls
it, because the process of the tests has settings of its own.
"""

from __future__ import annotations

import json
import sys
from datetime import timedelta
from decimal import Decimal
from itertools import chain

import django

django.setup()

from django.core.management import call_command  # noqa: E402 - Django must be up first
from django.utils import timezone  # noqa: E402

from batches.bills.operations import create_bill, create_stage, release_bill  # noqa: E402
from batches.bills.steps.lines import LineDraft  # noqa: E402
from batches.exchange.selectors.proofs import floor_proofs  # noqa: E402
from batches.runs.models import Entry  # noqa: E402
from batches.runs.operations import add_scrap_reason, plan, start_batch  # noqa: E402
from batches.runs.steps.batches import BatchPlan  # noqa: E402
from inventory.catalog.operations import create_item, create_place  # noqa: E402
from inventory.catalog.steps import ItemFields  # noqa: E402
from inventory.stock.models import Lot, Posting  # noqa: E402
from inventory.stock.operations import OpeningLot, take_in_opening_lots  # noqa: E402
from inventory.stock.selectors.proofs import ledger_proofs  # noqa: E402
from shopfloor.fields import Amount  # noqa: E402
from shopfloor.models import RequestKey  # noqa: E402
from shopfloor.operations import create_first_owner, issue_token  # noqa: E402
from shopfloor.selectors import person_named  # noqa: E402
from shopfloor.stamp import Stamp  # noqa: E402

BATCHES = 3
PLENTY_PIECES = 10**9
PLENTY_MG = 10**12
VALUE_MICRO = 10**12 + 7


def furnish() -> dict[str, object]:
    """Migrate, enter an owner, and start batches of bodies with more stock than they ever take."""
    call_command("migrate", interactive=False, verbosity=0)
    now = timezone.now()
    then = now - timedelta(days=1)
    create_first_owner(username="olga", display_name="Olga", password=None, at=then)
    owner = person_named("olga")
    stamp = Stamp(by=owner, at=then, now=now, reason="to begin with")
    create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, by=owner, at=then)
    for code, kind in {"HALF": "half", "ADHESIVE": "adhesive", "BODY": "body"}.items():
        is_mass = kind == "adhesive"
        fields: ItemFields = {
            "name": code,
            "kind": kind,
            "dimension": "mass" if is_mass else "count",
            "display_unit": "g" if is_mass else "each",
            "storage_place": "SHELF",
        }
        create_item(code=code, fields=fields, by=owner, at=then)
    create_stage(code="GLUING", fields={"name": "Gluing", "position": 1}, by=owner, at=then)
    add_scrap_reason(code="LEAK", name="Leaks", by=owner, at=then, stage_code="GLUING")
    lines = [
        LineDraft(item_code="HALF", per_piece=Amount(Decimal(2), "each")),
        LineDraft(item_code="ADHESIVE", per_piece=Amount(Decimal("0.15"), "g")),
    ]
    create_bill(item_code="BODY", stage_code="GLUING", lines=lines, by=owner, at=then)
    release_bill(item_code="BODY", number=1, by=owner, at=then)
    opening = [
        OpeningLot(item_code="HALF", qty_base=PLENTY_PIECES, value_micro=VALUE_MICRO),
        OpeningLot(item_code="ADHESIVE", qty_base=PLENTY_MG, value_micro=VALUE_MICRO),
    ]
    take_in_opening_lots(lots=opening, stamp=stamp)
    batches = []
    for _ in range(BATCHES):
        batch = plan(plan=BatchPlan(item_code="BODY", planned_base=1000), stamp=stamp)
        batches.append(start_batch(batch_code=batch.code, stamp=stamp).code)
    token = issue_token(username="olga", name="tests", by=owner, at=then)
    return {"token": token.text, "batches": batches}


def stock() -> dict[str, object]:
    """What stands, and what does not agree."""
    proofs = chain(ledger_proofs(), floor_proofs())
    return {
        "differences": [line for proof in proofs for line in proof.differences],
        "answers": {key.key: key.answer for key in RequestKey.objects.exclude(status=None)},
        "unanswered": RequestKey.objects.filter(status=None).count(),
        "entries": [entry.code for entry in Entry.objects.all()],
        "made": Posting.objects.filter(kind="made").count(),
        "lots": Lot.objects.count(),
    }


if __name__ == "__main__":
    print(json.dumps({"furnish": furnish, "stock": stock}[sys.argv[1]]()))  # noqa: T201 - its answer
