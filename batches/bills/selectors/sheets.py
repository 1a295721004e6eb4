"""Bills as frozen sheets: a revision with its lines and alternatives, in one statement."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any, Final, NamedTuple

from django.db.models import BigIntegerField, Q, QuerySet

from batches.bills.models import BillRevision, LineRole, RevisionState
from batches.bills.rules import line_need_base
from inventory.catalog.selectors import items_by_code
from inventory.stock.selectors.among import Among
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Given, Prepared
from shopfloor.units import Dimension, Measure

_ITEM_FIELDS: Final = (
    "id", "code", "name", "kind", "dimension", "display_unit",
    "piece_mass_mg", "density_mg_per_ul", "is_active", "storage_place_id",
)  # fmt: skip
_LINE_FIELDS: Final = (
    "id", "position", "role", "per_piece_base", "per_batch_base", "loss_ratio", "value_ratio",
)  # fmt: skip
_HEAD_FIELDS: Final = (
    "id", "number", "state", "scrap_ratio", "note", "bill_id", "bill__stage_id",
    "bill__stage__code", "bill__stage__is_mixing", "bill__stage__is_active",
)  # fmt: skip
_COLUMNS: Final = (
    *_HEAD_FIELDS,
    *(f"bill__item__{name}" for name in _ITEM_FIELDS),
    *(f"lines__{name}" for name in _LINE_FIELDS),
    *(f"lines__item__{name}" for name in _ITEM_FIELDS),
    "lines__alternatives__largest_ratio",
    *(f"lines__alternatives__item__{name}" for name in _ITEM_FIELDS),
)

Row = Mapping[str, Any]


class SheetItem(NamedTuple):
    """What a bill needs to know of an item."""

    id: int
    code: str
    name: str
    kind: str
    dimension: str
    display_unit: str
    piece_mass_mg: Decimal | None
    density_mg_per_ul: Decimal | None
    is_active: bool
    storage_place_id: int | None

    @property
    def measure(self) -> Measure:
        """How its amounts are measured."""
        return Measure(Dimension(self.dimension), self.piece_mass_mg, self.density_mg_per_ul)


@dataclass(frozen=True, slots=True)
class SheetAlternative:
    """An item that may stand in for a line's own, up to a share of its need, above 0 to 1."""

    item: SheetItem
    largest_ratio: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """What one piece takes of an item, or what comes off beside it; of a mixture one base unit.

    Attributes:
        per_piece_base: Base units of the item, up to nine decimals; pieces may be parts of one.
        per_batch_base: Base units once a batch.
        loss_ratio: Share of the material lost, 0 to below 1.
        value_ratio: By-product only: share of the batch's value, 0 to below 1.
        alternatives: In order of preference.
    """

    item: SheetItem
    role: str = LineRole.TAKEN
    per_piece_base: Decimal = Decimal(0)
    per_batch_base: int = 0
    loss_ratio: Decimal = Decimal(0)
    value_ratio: Decimal = Decimal(0)
    alternatives: tuple[SheetAlternative, ...] = ()

    def need_base(self, pieces: int, *, is_first_entry: bool) -> int:
        """Base units that an entry of so many pieces, good and scrapped, takes or gives off."""
        return line_need_base(
            per_piece_base=self.per_piece_base,
            pieces=pieces,
            per_batch_base=self.per_batch_base,
            loss_ratio=self.loss_ratio,
            first_entry=is_first_entry,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BillSheet:
    """One revision of a bill, with all that a run needs of it; lines in order."""

    revision_id: int
    number: int
    state: str
    scrap_ratio: Decimal
    note: str
    bill_id: int
    stage_id: int
    stage_code: str
    stage_is_mixing: bool
    stage_is_active: bool
    item: SheetItem
    lines: tuple[SheetLine, ...]

    @property
    def taken(self) -> tuple[SheetLine, ...]:
        """The lines that are taken."""
        return tuple(line for line in self.lines if line.role == LineRole.TAKEN)

    @property
    def by_products(self) -> tuple[SheetLine, ...]:
        """The lines that come off beside the good pieces."""
        return tuple(line for line in self.lines if line.role == LineRole.BY_PRODUCT)


def sheet(revision_id: int) -> BillSheet:
    """One revision. One statement.

    Raises:
        NotFoundError: no such revision.
    """
    found = _in_sheets(_rows_of_revision(revision_id=revision_id))
    if not found:
        raise NotFoundError("There is no such revision of a bill.", revision_id=revision_id)
    return found[0]


def sheets_by_id(revision_ids: Iterable[int]) -> dict[int, BillSheet]:
    """Revisions by their id, those that there are. One statement."""
    ids = set(revision_ids)
    return {found.revision_id: found for found in _sheets(Q(Among("pk", ids)))} if ids else {}


def sheets_of(item_code: str, numbers: Iterable[int]) -> list[BillSheet]:
    """Revisions of an item's bill, those that there are. One statement."""
    return _sheets(Q(bill__item__code=item_code, number__in=set(numbers)))


def current_sheets() -> list[BillSheet]:
    """Every current revision, in order of item codes. One statement."""
    return _sheets(Q(state=RevisionState.CURRENT))


def sheets_in_force(item_code: str, number: int | None) -> list[BillSheet]:
    """Every current revision, but of one item's bill the one named, if any. One statement."""
    if number is None:
        return current_sheets()
    is_item = Q(bill__item__code=item_code)
    return _sheets((is_item & Q(number=number)) | (~is_item & Q(state=RevisionState.CURRENT)))


def sheet_items(codes: Iterable[str]) -> dict[str, SheetItem]:
    """Items by code. One statement.

    Raises:
        NotFoundError: with the codes that no item has.
    """
    return {
        code: SheetItem(*(getattr(item, name) for name in _ITEM_FIELDS))
        for code, item in items_by_code(codes).items()
    }


def _sheets(which: Q) -> list[BillSheet]:
    return _in_sheets(_rows(which))


def _rows(which: Q) -> QuerySet[BillRevision, Row]:
    # One row a line and alternative: the left joins give a bill without lines one row, too.
    rows: QuerySet[BillRevision, Row] = (
        BillRevision.objects.filter(which)
        .order_by("bill__item__code", "pk", "lines__position", "lines__alternatives__rank")
        .values(*_COLUMNS)
    )
    return rows


_rows_of_revision = Prepared(lambda: _rows(Q(pk=Given("revision_id", BigIntegerField()))))


def _in_sheets(rows: Iterable[Row]) -> list[BillSheet]:
    return [_sheet(list(group)) for _, group in groupby(rows, key=lambda row: row["id"])]


def _sheet(rows: list[Row]) -> BillSheet:
    head = rows[0]
    return BillSheet(
        revision_id=head["id"],
        number=head["number"],
        state=head["state"],
        scrap_ratio=head["scrap_ratio"],
        note=head["note"],
        bill_id=head["bill_id"],
        stage_id=head["bill__stage_id"],
        stage_code=head["bill__stage__code"],
        stage_is_mixing=head["bill__stage__is_mixing"],
        stage_is_active=head["bill__stage__is_active"],
        item=_item(head, "bill__item__"),
        lines=tuple(_lines(rows)),
    )


def _lines(rows: Iterable[Row]) -> Iterator[SheetLine]:
    for line_id, group in groupby(rows, key=lambda row: row["lines__id"]):
        if line_id is None:
            continue
        found = list(group)
        yield SheetLine(
            item=_item(found[0], "lines__item__"),
            role=found[0]["lines__role"],
            per_piece_base=found[0]["lines__per_piece_base"],
            per_batch_base=found[0]["lines__per_batch_base"],
            loss_ratio=found[0]["lines__loss_ratio"],
            value_ratio=found[0]["lines__value_ratio"],
            alternatives=tuple(
                SheetAlternative(
                    _item(row, "lines__alternatives__item__"),
                    row["lines__alternatives__largest_ratio"],
                )
                for row in found
                if row["lines__alternatives__item__id"] is not None
            ),
        )


def _item(row: Row, prefix: str) -> SheetItem:
    return SheetItem(*(row[prefix + name] for name in _ITEM_FIELDS))
