"""What a recall begins from: lots, batches, boxes, or what some equipment made in some days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Q

from batches.recall.errors import NothingAtRiskError
from batches.runs.models import Entry
from batches.trace.selectors.starts import start_of_batch, start_of_box, start_of_lot
from inventory.catalog.models import Equipment
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among, AmongCodes
from inventory.stock.selectors.lineage import is_standing
from shopfloor.days import day_end, day_start
from shopfloor.errors import NotFoundError

CODES_MAX: Final = 100
NAMED_MAX: Final = 3
"""Codes of a kind that the words of a case name: as many of the longest as the column takes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is suspect; codes, at least one.

    Attributes:
        equipment: A press, mold, cavity, wheel, station or booth, with its parts: what entries made
            that name it.
        first_on: First day of these entries, the shop's day.
        last_on: Last day of these entries.
    """

    lots: Sequence[str] = ()
    batches: Sequence[str] = ()
    boxes: Sequence[str] = ()
    equipment: Sequence[str] = ()
    first_on: date | None = None
    last_on: date | None = None

    @property
    def words(self) -> str:
        """`lots L-2222, L-2345 and 8 more; equipment W1-17 from 2026-03-01 to 2026-03-31`."""
        return "; ".join(self._parts())

    def _parts(self) -> Iterator[str]:
        for noun in ("lots", "batches", "boxes"):
            if codes := getattr(self, noun):
                yield f"{noun} {_named(codes)}"
        if self.equipment:
            days = f" from {self.first_on} to {self.last_on}"
            yield f"equipment {_named(self.equipment)}{days}"


def _named(codes: Sequence[str]) -> str:
    more = f" and {len(codes) - NAMED_MAX} more" if len(codes) > NAMED_MAX else ""
    return ", ".join(codes[:NAMED_MAX]) + more


def suspect_lots(asked: Asked) -> set[int]:
    """Ids of the lots to begin from. One statement for all lots, two to five for another code.

    Raises:
        NothingAtRiskError: nothing is named, or nothing was made.
        NotFoundError, CodeTypoError, WrongKindOfCodeError, NothingToTraceError: of a code.
    """
    lots = Lot.objects.filter(AmongCodes("code", asked.lots)).order_by()
    by_code = dict(lots.values_list("code", "pk"))
    for code in asked.lots:
        if code not in by_code:
            start_of_lot(code)  # knows what to say of it
    found = set(by_code.values())
    for code in asked.batches:
        found |= start_of_batch(code, upstream=False).depth_of.keys()
    for code in asked.boxes:
        found |= start_of_box(code).depth_of.keys()
    for code in asked.equipment:
        found |= _made_on(code, asked)
    if not found:
        raise NothingAtRiskError(
            "Nothing was made there in those days. Check the days, or name lots."
            if asked.equipment
            else "Name at least one lot, batch, box or piece of equipment that has made something."
        )
    return found


def _made_on(code: str, asked: Asked) -> set[int]:
    """Lots that standing entries made that name some equipment or a part of it.

    Three statements.

    Raises:
        NotFoundError: no such equipment.
    """
    assert asked.first_on is not None
    assert asked.last_on is not None
    machine = Equipment.objects.filter(code=code).first()
    if machine is None:
        raise NotFoundError("No equipment has this code.", equipment=code)
    parts = Equipment.objects.filter(Q(pk=machine.pk) | Q(parent=machine)).values("pk")
    entries = Entry.objects.filter(
        Q(factors__equipment__in=parts) | Q(tallies__equipment__in=parts),
        is_standing("posting"),
        posting__at__gte=day_start(asked.first_on),
        posting__at__lte=day_end(asked.last_on),
    )
    made = Movement.objects.filter(Among("posting_id", entries.values_list("pk", flat=True)))
    return set(made.filter(qty_base__gt=0).values_list("lot_id", flat=True))
