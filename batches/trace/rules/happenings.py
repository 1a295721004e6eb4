"""What happened to the lots of a trace: each kind an event of a document."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple


class Amount(NamedTuple):
    """An amount of a lot; base units, > 0."""

    lot: str
    gtin: str
    dimension: str
    qty_base: int


class BoxName(NamedTuple):
    """A box; the SSCC is empty where it has none."""

    code: str
    sscc: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A delivery."""

    code: str
    at: datetime
    supplier: str
    order: str | None
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A posting that took lots and made others, none where all was scrapped."""

    code: str
    at: datetime
    batch: str | None
    taken: Sequence[Amount]
    made: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxed:
    """Lots put into a box, or taken out of it."""

    code: str
    at: datetime
    box: BoxName
    lots: Sequence[Amount]
    is_out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What left: boxes, and lots in none."""

    code: str
    at: datetime
    customer: str
    boxes: Sequence[BoxName]
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacked:
    """Boxes that left in another box."""

    code: str
    at: datetime
    box: BoxName
    boxes: Sequence[BoxName]


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned:
    """What came back from a shipment."""

    code: str
    at: datetime
    shipment: str
    customer: str
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disposed:
    """What was thrown away."""

    code: str
    at: datetime
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Lots that a hold stopped, or that its end let go; whatever was left of them."""

    code: str
    at: datetime
    lots: Sequence[Amount]
    is_over: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SentBack:
    """What went back to its supplier."""

    code: str
    at: datetime
    supplier: str
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """By how much lots turned out to be more, or less, than the books said."""

    code: str
    at: datetime
    lots: Sequence[Amount]
    is_more: bool
    is_counted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """Lots that were there when the books began."""

    code: str
    at: datetime
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A lot that was rejected, or released after all; whatever was left of it.

    Attributes:
        number: Of what happened to the lot.
    """

    number: int
    at: datetime
    lot: Amount
    is_rejected: bool


Happened = (
    Received
    | Made
    | Boxed
    | Sent
    | Stacked
    | Returned
    | Disposed
    | Held
    | SentBack
    | Corrected
    | Begun
    | Judged
)
