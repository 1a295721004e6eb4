"""The generated past is one that every proof accepts, at a tiny scale."""

from __future__ import annotations

from itertools import chain

import pytest

from batches.exchange.selectors.proofs import floor_proofs
from inventory.stock.models import Movement, Posting, PostingKind
from inventory.stock.selectors.proofs import ledger_proofs
from tests.bench.past import fill, today

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_generated_month_passes_every_proof_and_has_something_to_prove() -> None:
    extent = fill(workdays=22, last_day=today(), model="M90")
    proofs = list(chain(ledger_proofs(), floor_proofs()))
    assert [proof for proof in proofs if proof.differences] == []
    assert Movement.objects.filter(qty_base__lt=0).count() == extent.movements_taken
    kinds = set(Posting.objects.values_list("kind", flat=True))
    assert kinds >= set(PostingKind.values) - {"adjusted", "returned", "reversed"}
