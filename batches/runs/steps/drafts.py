"""What a person records at the bench, before any of it is looked up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.stock.models import Grade


@dataclass(frozen=True, slots=True)
class GoodTally:
    """Good pieces of one grade (base units of a mixture), > 0.

    From one cavity or station if known.
    """

    qty_base: int
    grade: str = Grade.FIRST
    equipment_code: str = ""


@dataclass(frozen=True, slots=True)
class ScrapTally:
    """Pieces scrapped for one reason, > 0; from one cavity or station if known."""

    qty_base: int
    reason_code: str
    equipment_code: str = ""


@dataclass(frozen=True, slots=True)
class LotUse:
    """A lot that was taken.

    Attributes:
        qty_base: The exact amount that was weighed, base units of its item; None: it was scanned.
        may_be_left: It was at hand, and perhaps not needed. What was scanned was taken: an entry
            that takes nothing of it is refused.
    """

    lot_code: str
    qty_base: int | None = None
    may_be_left: bool = False


@dataclass(frozen=True, slots=True)
class ByProductWeighed:
    """A by-product that was weighed, base units of its item, >= 0.

    Otherwise the bill's amount counts.
    """

    item_code: str
    qty_base: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryDraft:
    """One recording at the bench.

    Attributes:
        lots: None given: the proposal is taken. Scanned: those first, the rest proposed. With
            amounts: exactly those.
        override_reason: A lead's reason to use expired or over-opened lots.
        done_by: Sign-in name of who did the work; empty for who records it.
        factors: Circumstances by name: shift, humidity.
    """

    batch_code: str
    good: Sequence[GoodTally] = ()
    scrap: Sequence[ScrapTally] = ()
    lots: Sequence[LotUse] = ()
    by_products: Sequence[ByProductWeighed] = ()
    equipment_codes: Sequence[str] = ()
    factors: Mapping[str, str] = field(default_factory=dict)
    minutes: int | None = None
    done_by: str = ""
    override_reason: str = ""

    @property
    def good_base(self) -> int:
        """Good pieces of all grades."""
        return sum(tally.qty_base for tally in self.good)

    @property
    def scrapped_base(self) -> int:
        """Scrapped pieces of all reasons."""
        return sum(tally.qty_base for tally in self.scrap)
