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
class _Coded:
    """What has a code of its own, or of the paper behind it."""

    code: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _OfLots(_Coded):
    lots: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Received(_OfLots):
    """A delivery."""

    supplier: str
    order: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made(_Coded):
    """A posting that took lots and made others, none where all was scrapped."""

    batch: str | None
    taken: Sequence[Amount]
    made: Sequence[Amount]


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxed(_OfLots):
    """Lots put into a box, or taken out of it."""

    box: BoxName
    is_out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent(_OfLots):
    """What left: boxes, and lots in none."""

    customer: str
    boxes: Sequence[BoxName]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacked(_Coded):
    """Boxes that left in another box."""

    box: BoxName
    boxes: Sequence[BoxName]


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned(_OfLots):
    """What came back from a shipment."""

    shipment: str
    customer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Disposed(_OfLots):
    """What was thrown away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(_OfLots):
    """Lots that a hold stopped, or that its end let go; whatever was left of them."""

    is_over: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SentBack(_OfLots):
    """What went back to its supplier."""

    supplier: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected(_OfLots):
    """By how much lots turned out to be more, or less, than the books said."""

    is_more: bool
    is_counted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun(_OfLots):
    """Lots that were there when the books began."""


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
