"""The one place that changes an amount or a value.

`post`, and the two halves its callers make postings of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, connection

from inventory.catalog.errors import DuplicateCodeError
from inventory.stock.models import (
    Disposition,
    Grade,
    Lot,
    Movement,
    OutsideKind,
    Posting,
    PostingKind,
)
from inventory.stock.rules import own_lot_code
from inventory.stock.steps.refusals import refuse_impossible, refuse_too_large
from shopfloor.codes.alphabet import encode
from shopfloor.inserted import insert
from shopfloor.money import share
from shopfloor.planned import planned_cursor
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class Change:
    """A change of a lot that stands already.

    Attributes:
        lot: A locked lot (`lock_lots`).
        qty_base: Base units of its item, negative out.
        value_micro: Millionths of the currency, with the sign of the amount.
    """

    lot: Lot
    qty_base: int
    value_micro: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Make:
    """A lot to be born in a posting. Empty `code`: one is made from the posting's number."""

    item_id: int
    place_id: int
    qty_base: int
    value_micro: int
    code: str = ""
    parent_id: int | None = None
    owner: str = ""
    grade: str = Grade.FIRST
    disposition: str = Disposition.RELEASED
    supplier_id: int | None = None
    supplier_lot_code: str = ""
    expires_at: datetime | None = None
    opened_at: datetime | None = None
    discard_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Posted:
    """A posting and the lots that it made, in the order asked."""

    posting: Posting
    made: list[Lot]


@dataclass(frozen=True, slots=True)
class Document:
    """The paper behind a posting: kind and code, as text, so that the ledger need not know it."""

    kind: str = ""
    code: str = ""


NO_DOCUMENT = Document()

ROWS_OF_A_STATEMENT = 5000  # movements; SQLite takes 32,766 parameters


def take(lot: Lot, qty_base: int) -> Change:
    """Take an amount out of a locked lot, with its share of the value.

    The share rounds down and the last unit takes the rest, so that an emptied lot is worth exactly
    nothing.
    """
    assert qty_base > 0
    if qty_base > lot.on_hand_base:  # `post` refuses it with the facts
        return Change(lot, -qty_base, -lot.value_micro)
    return Change(lot, -qty_base, -share(lot.value_micro, qty_base, lot.on_hand_base))


def post(
    *,
    kind: PostingKind,
    stamp: Stamp,
    changes: Sequence[Change] = (),
    makes: Sequence[Make] = (),
    outside_kind: OutsideKind = OutsideKind.NONE,
    document: Document = NO_DOCUMENT,
    reverses: Posting | None = None,
) -> Posted:
    """Write one posting with its movements, and bring the lots' caches along.

    The movements' values add up to what came from or went outside; with no outside kind they add up
    to nothing.
    Needs an open transaction and locked lots. Four statements, five when the day is past, two more
    when backdated.

    Args:
        kind: What happened.
        stamp: Who, when, why.
        changes: At most one a lot; every lot locked in this transaction.
        makes: Lots to be born.
        outside_kind: Where the value came from or went to, if outside.
        document: The paper behind it.
        reverses: The posting that this one undoes.

    Raises:
        BooksClosedError, LotShortError, LotNotThereYetError, LotCountedSinceError,
            BalanceBelowZeroError: it cannot have happened so.
        AmountTooLargeError, NumberTooLargeError: a lot would hold or be worth too much.
        OwnCodeError: a code that is given cannot be a lot's.
        DuplicateCodeError: a given lot code is taken.
    """
    assert changes or makes
    assert len({change.lot.pk for change in changes}) == len(changes), "one change a lot"
    refuse_impossible([(change.lot, change.qty_base) for change in changes], stamp)
    assert changes or makes, "a posting changes something"
    refuse_too_large([(m.qty_base, m.value_micro) for m in makes] + _after(changes))
    outside_micro = sum(c.value_micro for c in changes) + sum(m.value_micro for m in makes)
    assert outside_kind != OutsideKind.NONE or outside_micro == 0, "value appeared or vanished"
    posting = Posting(
        kind=kind,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
        outside_kind=outside_kind,
        outside_micro=outside_micro,
        document_kind=document.kind,
        document_code=document.code,
        reverses=reverses,
    )
    insert([posting])
    made = _make_lots(makes, posting)
    _write_movements(
        [(posting.pk, c.lot.pk, c.qty_base, c.value_micro) for c in changes]
        + [(posting.pk, lot.pk, lot.on_hand_base, lot.value_micro) for lot in made]
    )
    _bring_caches_along(changes, stamp.at)
    return Posted(posting=posting, made=made)


def _write_movements(rows: Sequence[tuple[int, int, int, int]]) -> None:
    """Posting, lot, base units and value of each. In plain SQL: every entry waits for it."""
    table = connection.ops.quote_name(Movement._meta.db_table)
    with planned_cursor() as cursor:
        for first in range(0, len(rows), ROWS_OF_A_STATEMENT):
            some = rows[first : first + ROWS_OF_A_STATEMENT]
            marks = ", ".join(["(%s, %s, %s, %s)"] * len(some))
            cursor.execute(
                f"INSERT INTO {table} (posting_id, lot_id, qty_base, value_micro)"  # noqa: S608 - our own table name
                f" VALUES {marks}",
                [number for row in some for number in row],
            )


def _after(changes: Sequence[Change]) -> list[tuple[int, int]]:
    """What each lot will hold and be worth."""
    return [(c.lot.on_hand_base + c.qty_base, c.lot.value_micro + c.value_micro) for c in changes]


def _make_lots(makes: Sequence[Make], posting: Posting) -> list[Lot]:
    lots = [
        Lot(
            code=_own_code(make) or _lot_code(posting, number),
            item_id=make.item_id,
            parent_id=make.parent_id,
            place_id=make.place_id,
            owner=make.owner,
            grade=make.grade,
            disposition=make.disposition,
            supplier_id=make.supplier_id,
            supplier_lot_code=make.supplier_lot_code,
            born_at=posting.at,
            expires_at=make.expires_at,
            opened_at=make.opened_at,
            discard_at=make.discard_at,
            on_hand_base=make.qty_base,
            value_micro=make.value_micro,
            touched_at=posting.at,
        )
        for number, make in enumerate(makes, start=1)
    ]
    assert all(lot.on_hand_base > 0 for lot in lots)
    if not lots:
        return []
    try:
        return [*insert(lots)]
    except IntegrityError as error:
        # The transaction is lost either way, so the code at fault cannot be looked up; name
        # those that were given.
        given = sorted(make.code for make in makes if make.code)
        if not given or "code" not in str(error):
            raise
        raise DuplicateCodeError(
            "A lot with this code stands already. Give another code, or none.", codes=given
        ) from error


def _own_code(make: Make) -> str:
    """The code that is given, if any; that of a part is its lot's with a number."""
    is_given = make.code and make.parent_id is None
    return own_lot_code(make.code) if is_given else make.code


def _lot_code(posting: Posting, number: int) -> str:
    code = encode(posting.pk, "L")
    return code if number == 1 else f"{code}-{number}"


def _bring_caches_along(changes: Sequence[Change], at: datetime) -> None:
    """Add the movements to the lots' caches in one statement.

    The table's constraints are the last guard.
    """
    if not changes:
        return
    table = connection.ops.quote_name(Lot._meta.db_table)
    rows = ", ".join(
        ["(CAST(%s AS bigint), CAST(%s AS bigint), CAST(%s AS bigint))"] * len(changes)
    )
    at_value = connection.ops.adapt_datetimefield_value(at)
    sql = (
        f"WITH v (id, qty, value) AS (VALUES {rows}) UPDATE {table} SET"  # noqa: S608 - our own table name
        " on_hand_base = on_hand_base + v.qty, value_micro = value_micro + v.value,"
        " touched_at = CASE WHEN touched_at < %s THEN %s ELSE touched_at END"
        f" FROM v WHERE {table}.id = v.id"
    )
    values = [number for c in changes for number in (c.lot.pk, c.qty_base, c.value_micro)]
    with planned_cursor() as cursor:
        cursor.execute(sql, [*values, at_value, at_value])
    for change in changes:
        change.lot.on_hand_base += change.qty_base
        change.lot.value_micro += change.value_micro
        change.lot.touched_at = max(change.lot.touched_at, at)
