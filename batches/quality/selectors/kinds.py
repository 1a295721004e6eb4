"""Choices that doors name."""

from __future__ import annotations

from batches.quality.models import CheckKind, HowMany

KINDS = CheckKind.choices
HOW_MANY = HowMany.choices
