"""Arithmetic of an entry: lots to propose, value to share, a wheel's time, a batch's states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Final, NamedTuple

from shopfloor.errors import InvalidInputError
from shopfloor.money import split_by_weights

STATE_CHANGES: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "planned": frozenset({"idle", "running", "aborted"}),
        "idle": frozenset({"running", "aborted"}),
        "running": frozenset({"held", "complete", "aborted"}),
        "held": frozenset({"running", "aborted"}),
        "complete": frozenset(),
        "aborted": frozenset(),
    }
)
"""What each state of a batch may become.

Source: IEC 61512-1, procedural states: a held batch runs again before it is complete, and complete
and aborted are final. `planned` is our own; a planned batch may be started without waiting idle.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class LotOffer:
    """A lot that may be used now.

    Attributes:
        available_base: Base units that may be taken, >= 0.
        usable_until: The earlier of its expiry and the end of its opened life; None: it keeps.
        scanned_rank: Its place among the lots scanned, lowest first; None: not scanned.
    """

    lot_id: int
    available_base: int
    usable_until: datetime | None
    born_at: datetime
    scanned_rank: int | None = None


class Take(NamedTuple):
    """An amount, > 0, proposed from a lot."""

    lot_id: int
    qty_base: int


class Proposal(NamedTuple):
    """What to take from which lots, and what no lot covers (0: nothing is short)."""

    takes: list[Take]
    short_base: int


class EntryValues(NamedTuple):
    """Value of each output and by-product, in the order given, and what is lost with no output."""

    outputs_micro: list[int]
    by_products_micro: list[int]
    loss_micro: int


def split_by_first_expired(need_base: int, offers: Sequence[LotOffer]) -> Proposal:
    """Spread a need over lots: those scanned, in that order; then first expired, first out.

    Lots that keep come last; lots that expire together go oldest first, then by id.

    Args:
        need_base: Base units wanted, >= 0.
        offers: Lots of one line that may be used, each once, in any order.
    """
    assert need_base >= 0
    assert len({offer.lot_id for offer in offers}) == len(offers)
    takes: list[Take] = []
    short_base = need_base
    for offer in sorted(offers, key=_first_expired):
        qty_base = min(short_base, offer.available_base)
        if qty_base > 0:
            takes.append(Take(offer.lot_id, qty_base))
            short_base -= qty_base
    return Proposal(takes, short_base)


def share_value(total_micro: int, pieces_by_output: Sequence[int]) -> list[int]:
    """Value of each output by its good pieces; rounded down, the last with pieces takes the rest.

    Raises:
        NothingToShareByError: there is no good piece; see `entry_values`.
    """
    return split_by_weights(total_micro, pieces_by_output)


def entry_values(
    *, total_micro: int, pieces_by_output: Sequence[int], by_product_ratios: Sequence[Decimal]
) -> EntryValues:
    """Share the value of what an entry took: by-products their ratio, the good pieces the rest.

    Scrap gets nothing, so it makes the good pieces dearer; with no good piece the rest is loss.

    Args:
        total_micro: Value of everything taken, >= 0.
        pieces_by_output: Good pieces (base units of a mixture) of each output, >= 0.
        by_product_ratios: Fixed share of the value of each by-product, 0 for none.

    Raises:
        InvalidInputError: a ratio is negative, or they leave nothing for the good pieces.
    """
    assert total_micro >= 0
    if min(by_product_ratios, default=Decimal(0)) < 0 or sum(by_product_ratios) >= 1:
        raise InvalidInputError(
            "By-products must carry a share of at least 0 and, together, below 1.",
            ratios=[str(ratio) for ratio in by_product_ratios],
        )
    by_products = [int(total_micro * Fraction(ratio)) for ratio in by_product_ratios]
    left = total_micro - sum(by_products)
    if not any(pieces_by_output):
        return EntryValues([0] * len(pieces_by_output), by_products, left)
    return EntryValues(share_value(left, pieces_by_output), by_products, 0)


def index_ok(*, index_seconds: int | Decimal, stations: int, clamp_seconds: int | Decimal) -> bool:
    """Whether a wheel holds each piece in its clamp for long enough.

    A piece is clamped for one turn: index time x stations >= clamp time. Common practice, no
    source; the clamp time is the adhesive maker's figure.
    """
    return index_seconds * stations >= clamp_seconds


def yield_ratio(*, good: int, scrapped: int) -> Decimal | None:
    """Good of all pieces worked on, 0 to 1, to four places; None where nothing was.

    Common practice, no source.
    """
    if not good + scrapped:
        return None
    return round(Decimal(good) / (good + scrapped), 4)


def can_change(before: str, after: str) -> bool:
    """Whether a batch in state `before` may become `after`; False for a word that is no state."""
    return after in STATE_CHANGES.get(before, frozenset())


def _first_expired(offer: LotOffer) -> tuple[bool, int, bool, datetime, datetime, int]:
    return (
        offer.scanned_rank is None,
        offer.scanned_rank or 0,
        offer.usable_until is None,
        offer.usable_until or offer.born_at,
        offer.born_at,
        offer.lot_id,
    )
