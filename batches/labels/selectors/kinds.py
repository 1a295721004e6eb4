"""The kinds of papers there are: what each is of, how it is read, what it is printed on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final, Protocol

from batches.labels.rules.papers import TITLES, LotLabel, Paper
from batches.labels.selectors.boxes import box_labels, carton_labels
from batches.labels.selectors.holds import hold_tags
from batches.labels.selectors.lots import lot_labels
from batches.labels.selectors.recalls import recall_reports
from batches.labels.selectors.record_reports import batch_records
from batches.labels.selectors.shelves import count_sheets, item_labels, place_labels
from batches.labels.selectors.shipments import packing_lists
from batches.labels.selectors.supplier_orders import supplier_order_papers
from batches.labels.selectors.travelers import travelers


class Reader(Protocol):
    """Reads papers in the order of their codes, in a constant number of statements."""

    def __call__(self, codes: Sequence[str], *, at: datetime) -> Sequence[Paper]:
        """Papers, one a code.

        Raises:
            NotFoundError: naming all codes that nothing has.
        """


@dataclass(frozen=True, slots=True)
class PaperKind:
    """A kind of paper.

    Attributes:
        name: In addresses and records: `lots`.
        papers: Reads some, as of a moment.
        stock: Name of the standing stock to take when nobody names one.
    """

    name: str
    papers: Reader
    stock: Callable[[Sequence[Paper]], str]

    @property
    def title(self) -> str:
        """For people: `Lot sticker`."""
        return TITLES[self.name]


def _on(stock: str) -> Callable[[Sequence[Paper]], str]:
    return lambda _papers: stock


def _sticker_stock(papers: Sequence[Paper]) -> str:
    """Hazard text, and room to write when it was opened, need the larger one."""
    has_more = any(
        isinstance(paper, LotLabel) and (paper.hazard_text or paper.pictograms or paper.opened_life)
        for paper in papers
    )
    return "4x2" if has_more else "2x1"


def _now(read: Callable[[Sequence[str]], Sequence[Paper]]) -> Reader:
    """A reader of what is the same at every moment."""

    def papers(codes: Sequence[str], *, at: datetime) -> Sequence[Paper]:
        return read(codes)

    return papers


PAPERS: Final[Mapping[str, PaperKind]] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            PaperKind("lots", _now(lot_labels), _sticker_stock),
            PaperKind("boxes", _now(box_labels), _on("4x6")),
            PaperKind("cartons", _now(carton_labels), _on("4x6")),
            PaperKind("batches", travelers, _on("letter")),
            PaperKind("holds", _now(hold_tags), _on("4x6")),
            PaperKind("places", _now(place_labels), _on("3x1")),
            PaperKind("items", _now(item_labels), _on("3x1")),
            PaperKind("counts", count_sheets, _on("letter")),
            PaperKind("shipments", _now(packing_lists), _on("letter")),
            PaperKind("records", batch_records, _on("letter")),
            PaperKind("recalls", recall_reports, _on("letter")),
            PaperKind("supplier-orders", _now(supplier_order_papers), _on("letter")),
        )
    }
)
