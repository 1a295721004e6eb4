"""Lines as a person or a file writes them, read into exact base units or refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from batches.bills.errors import (
    DimensionMismatchError,
    LineOfItselfError,
    LineTakesNothingError,
    LineTwiceError,
    PerPieceAmountError,
    RatioOutOfRangeError,
)
from batches.bills.models import LineRole
from batches.bills.rules import PER_PIECE_DECIMALS
from batches.bills.selectors.amounts import PerAmount
from batches.bills.selectors.sheets import (
    SheetAlternative,
    SheetItem,
    SheetLine,
    sheet_items,
)
from inventory.catalog.models import ItemKind
from shopfloor.fields import Amount
from shopfloor.units import UNITS, Dimension, to_base

PER_PIECE_BASE_MAX: Final = 10**9
"""Most base units a piece: a metric ton, a cubic meter, a thousand kilometers."""

# SQLite keeps a decimal as a float of 15 safe digits: nine decimals below a kilogram, three above.
_FINE_BELOW: Final = 10**6
_COARSE_DECIMALS: Final = 3

_RATIO_DECIMALS: Final = 5


@dataclass(frozen=True, slots=True)
class AlternativeDraft:
    """An item that may stand in, up to a share of the line's need."""

    item_code: str
    largest_ratio: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDraft:
    """A line as written.

    Attributes:
        per_piece: What one piece takes; pieces of the line's item may be parts of one, since one
            insert may serve two lures. Of a mixture: what one base unit takes.
        per_amount: For a mixture, instead: takes so much for so much of it.
        per_batch: What goes once a batch; whole base units.
    """

    item_code: str
    role: LineRole = LineRole.TAKEN
    per_piece: Amount | None = None
    per_amount: PerAmount | None = None
    per_batch: Amount | None = None
    loss_ratio: Decimal = Decimal(0)
    value_ratio: Decimal = Decimal(0)
    alternatives: tuple[AlternativeDraft, ...] = ()


def read_lines(
    drafts: Sequence[LineDraft], *, item: SheetItem, is_mixing: bool
) -> tuple[SheetLine, ...]:
    """The lines in exact base units, in the order written. One statement.

    Args:
        drafts: The whole list.
        item: What the bill makes.
        is_mixing: Whether it is a mixture.

    Raises:
        NotFoundError: an item that does not exist.
        LineOfItselfError, LineTwiceError, LineTakesNothingError: the list contradicts itself.
        PerPieceAmountError, RatioOutOfRangeError: a number out of its range.
        DimensionMismatchError, UnitMismatchError, UnknownUnitError, FractionOfPieceError,
            AmountTooLargeError: an amount that cannot be meant of that item.
    """
    codes = [draft.item_code for draft in drafts]
    codes += [other.item_code for draft in drafts for other in draft.alternatives]
    items = sheet_items(codes)
    lines = tuple(_line(draft, items, item if is_mixing else None) for draft in drafts)
    refuse_contradictions(lines, item=item)
    return lines


def refuse_contradictions(lines: Iterable[SheetLine], *, item: SheetItem) -> None:
    """Refuse lines that no release could ever accept.

    Raises:
        LineOfItselfError, LineTwiceError, LineTakesNothingError, RatioOutOfRangeError,
            DimensionMismatchError: as named.
    """
    lines = tuple(lines)
    _refuse_itself(lines, item)
    _refuse_twice([(line.role, line.item.code) for line in lines], "The item stands twice.")
    for line in lines:
        if not line.per_piece_base and not line.per_batch_base:
            raise LineTakesNothingError(
                "The line takes nothing. Give an amount a piece, an amount a batch, or both.",
                item=line.item.code,
            )
        _refuse_ratios(line)
        _refuse_alternatives(line)


def refuse_ratio(ratio: Decimal, *, what: str, **facts: object) -> None:
    """Refuse a share that is not at least 0 and below 1, or finer than is kept.

    Raises:
        RatioOutOfRangeError: as named.
    """
    if not 0 <= ratio < 1:
        raise RatioOutOfRangeError(
            f"The {what} must be at least 0 and below 1.", ratio=f"{ratio:f}", what=what, **facts
        )
    _refuse_too_fine(ratio, what, facts)


def per_piece_base(amount: Amount, item: SheetItem) -> Decimal:
    """Base units, parts of one too, in an amount a piece.

    To the nearest of nine decimals (half to even), of three from 10^6 base units on. Pieces are
    counted, not weighed, and may be parts of one.

    Raises:
        PerPieceAmountError: above zero but rounded to nothing, above `PER_PIECE_BASE_MAX`, or
            pieces with more decimals than are kept.
        UnitMismatchError, UnknownUnitError, AmountTooLargeError: it cannot be meant of that item.
    """
    if item.measure.dimension is Dimension.COUNT:
        return _pieces_a_piece(amount, item)
    rough_base = to_base(amount=amount.amount, unit=amount.unit, item=item.measure)
    if rough_base > PER_PIECE_BASE_MAX or amount.amount > PER_PIECE_BASE_MAX:
        raise _amount_error("The amount a piece is larger than any piece.", amount, item)
    is_fine = rough_base < _FINE_BELOW and amount.amount < _FINE_BELOW
    places = PER_PIECE_DECIMALS if is_fine else _COARSE_DECIMALS
    scaled = to_base(amount=amount.amount.scaleb(places), unit=amount.unit, item=item.measure)
    if amount.amount and not scaled:
        raise _amount_error("The amount a piece is too small to be kept.", amount, item)
    return Decimal(scaled).scaleb(-places)


def fitted(per_piece: Fraction, item: SheetItem) -> Decimal:
    """A computed amount a piece at the decimals kept, rounded half to even.

    Raises:
        PerPieceAmountError: above zero but rounded to nothing, or above `PER_PIECE_BASE_MAX`.
    """
    places = PER_PIECE_DECIMALS if per_piece < _FINE_BELOW else _COARSE_DECIMALS
    scaled = round(per_piece * 10**places)
    if per_piece > PER_PIECE_BASE_MAX or (per_piece and not scaled):
        raise PerPieceAmountError(
            "The amount a piece comes out too small or too large to be kept.", item=item.code
        )
    return Decimal(scaled).scaleb(-places)


def _line(draft: LineDraft, items: Mapping[str, SheetItem], mixture: SheetItem | None) -> SheetLine:
    item = items[draft.item_code]
    batch = draft.per_batch
    return SheetLine(
        item=item,
        role=draft.role,
        per_piece_base=_per_piece(draft, item, mixture),
        per_batch_base=to_base(amount=batch.amount, unit=batch.unit, item=item.measure)
        if batch
        else 0,
        loss_ratio=draft.loss_ratio,
        value_ratio=draft.value_ratio,
        alternatives=tuple(
            SheetAlternative(items[other.item_code], other.largest_ratio)
            for other in draft.alternatives
        ),
    )


def _per_piece(draft: LineDraft, item: SheetItem, mixture: SheetItem | None) -> Decimal:
    if draft.per_amount is None:
        return Decimal(0) if draft.per_piece is None else per_piece_base(draft.per_piece, item)
    if mixture is None or draft.per_piece is not None:
        raise PerPieceAmountError(
            "`per_amount` is for a mixture, and stands in place of `per_piece`.", item=item.code
        )
    takes = per_piece_base(draft.per_amount.takes, item)
    makes = per_piece_base(draft.per_amount.makes, mixture)
    if not makes:
        raise _amount_error("The amount of the mixture is zero.", draft.per_amount.makes, mixture)
    return fitted(Fraction(takes) / Fraction(makes), item)


def _pieces_a_piece(amount: Amount, item: SheetItem) -> Decimal:
    unit = UNITS.get(amount.unit)
    if unit is None or unit.dimension is not Dimension.COUNT:
        to_base(amount=amount.amount, unit=amount.unit, item=item.measure)  # says what is wrong
        raise _amount_error("What one piece takes of this item is counted.", amount, item)
    exact = Fraction(amount.amount) * unit.factor
    pieces = fitted(exact, item)
    if Fraction(pieces) != exact:
        raise _amount_error("Parts of a piece are kept to nine decimals.", amount, item)
    return pieces


def _amount_error(detail: str, amount: Amount, item: SheetItem) -> PerPieceAmountError:
    return PerPieceAmountError(
        f"{detail} Check the number and the unit.",
        item=item.code,
        amount=f"{amount.amount:f}",
        unit=amount.unit,
    )


def _refuse_itself(lines: Iterable[SheetLine], item: SheetItem) -> None:
    for line in lines:
        if item.code in (line.item.code, *(other.item.code for other in line.alternatives)):
            raise LineOfItselfError(
                "An item cannot be part of its own bill. Rework takes the lots named, by no bill.",
                item=item.code,
            )


def _refuse_twice(keys: Sequence[tuple[str, str]], detail: str) -> None:
    twice = sorted({code for role, code in keys if keys.count((role, code)) > 1})
    if twice:
        raise LineTwiceError(f"{detail} Put it in one line.", items=twice)


def _refuse_ratios(line: SheetLine) -> None:
    refuse_ratio(line.loss_ratio, what="share lost", item=line.item.code)
    refuse_ratio(line.value_ratio, what="share of the value", item=line.item.code)
    if line.value_ratio and line.role != LineRole.BY_PRODUCT:
        raise RatioOutOfRangeError(
            "Only a by-product carries a share of the value.", item=line.item.code
        )
    if line.role == LineRole.BY_PRODUCT and (line.loss_ratio or line.alternatives):
        raise RatioOutOfRangeError(
            "A by-product has no loss and no alternatives: it is what was weighed or computed.",
            item=line.item.code,
        )


def _refuse_alternatives(line: SheetLine) -> None:
    codes = [line.item.code, *(other.item.code for other in line.alternatives)]
    _refuse_twice([(line.role, code) for code in codes], "An alternative stands twice.")
    for other in line.alternatives:
        facts = {"item": line.item.code, "alternative": other.item.code}
        if not 0 < other.largest_ratio <= 1:
            raise RatioOutOfRangeError(
                "The largest share of an alternative is above 0 and at most 1.",
                ratio=f"{other.largest_ratio:f}",
                **facts,
            )
        if _is_regrind_unbounded(line, other):
            raise RatioOutOfRangeError(
                "Give regrind a largest share below 1. If nothing else is taken, make it the line.",
                ratio=f"{other.largest_ratio:f}",
                **facts,
            )
        _refuse_too_fine(other.largest_ratio, "largest share", facts)
        if other.item.dimension != line.item.dimension:
            raise DimensionMismatchError(
                "An alternative is measured like the item it stands in for.",
                dimension=line.item.dimension,
                other=other.item.dimension,
                **facts,
            )


def _is_regrind_unbounded(line: SheetLine, other: SheetAlternative) -> bool:
    is_regrind = other.item.kind == ItemKind.REGRIND and line.item.kind != ItemKind.REGRIND
    return is_regrind and other.largest_ratio == 1


def _refuse_too_fine(ratio: Decimal, what: str, facts: Mapping[str, object]) -> None:
    if ratio != round(ratio, _RATIO_DECIMALS):
        raise RatioOutOfRangeError(
            f"The {what} has more than {_RATIO_DECIMALS} decimals. Round it.",
            ratio=f"{ratio:f}",
            **facts,
        )
