"""`manage.py verify`: proves that everything that can be computed twice comes out the same."""

from __future__ import annotations

from itertools import chain
from typing import Any

from django.core.management.base import CommandError

from batches.exchange.selectors.proofs import floor_proofs
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.management.shop_command import ShopCommand


class Command(ShopCommand):
    """Reads only. The exit code is 1 on any difference."""

    help = "Prove the ledger and what stands on it; names every difference."
    requires_system_checks = ()  # a missing trigger is one of the proofs

    def handle(self, **options: Any) -> None:
        """A line a proof, and under it what disagrees."""
        found = 0
        for proof in chain(ledger_proofs(), floor_proofs()):
            verdict = "DIFFERS" if proof.differences else "holds"
            self.stdout.write(f"{verdict:8}{proof.title} ({proof.compared} compared)")
            for difference in proof.differences:
                self.stdout.write(f"        - {difference}")
            found += len(proof.differences)
        if found:
            noun = "difference" if found == 1 else "differences"
            raise CommandError(f"{found} {noun} found. Keep this page and a backup, and ask.")
        self.stdout.write("Everything that can be computed twice comes out the same.")
