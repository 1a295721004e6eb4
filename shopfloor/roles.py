"""The five roles, and the groups of them that doors name."""

from __future__ import annotations

from django.db import models


class Role(models.TextChoices):
    """What a person does in the shop; a person has one role."""

    OWNER = "owner", "Owner"
    LEAD = "lead", "Lead"
    BENCH = "bench", "Bench"
    PACKER = "packer", "Packer"
    VIEWER = "viewer", "Viewer"


NOBODY: frozenset[Role] = frozenset()
OWNERS = frozenset({Role.OWNER})
LEADS = frozenset({Role.OWNER, Role.LEAD})
BENCHES = LEADS | {Role.BENCH}
PACKERS = LEADS | {Role.PACKER}
WRITERS = BENCHES | PACKERS
ANYONE = frozenset(Role)
