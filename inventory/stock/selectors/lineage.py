"""Genealogy, read from the ledger itself: which lots flowed into which.

In a posting of a flowing kind that was not reversed, every lot taken flows into every lot made.
There is no second table that could disagree.

How the statements are written matters. As joins both planners turn them round: SQLite reads a whole
index for a Bloom filter once its tables were analyzed, PostgreSQL scans the postings as long as its
were not. A subquery with one value and `within` leave nothing to turn round: every step is a
look-up in an index, and of the movements only the covering indexes are read.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import Exists, OuterRef
from django.db.models.expressions import Combinable, NegatedExpression

from inventory.stock.models import FLOWING_KINDS, Lot, Movement, Posting, PostingKind
from inventory.stock.selectors.among import Among, each_id, parameter, within


class Direction(StrEnum):
    """Which way a trace goes: what went in, or where it went."""

    UPSTREAM = "upstream"
    DOWNSTREAM = "downstream"


# Signs of the movements on this side of a posting and beyond it.
SIGNS = {Direction.DOWNSTREAM: ("<", ">"), Direction.UPSTREAM: (">", "<")}


class Side(NamedTuple):
    """A lot's amount in a flowing posting: negative was taken, positive was made. Base units."""

    posting_id: int
    lot_id: int
    qty_base: int


class LotChange(NamedTuple):
    """What came into a lot and went out of it by postings of one kind. Base units, both >= 0."""

    lot_id: int
    kind: str
    came_in_base: int
    went_out_base: int


class ItemChange(NamedTuple):
    """The same of all lots of an item."""

    item_id: int
    kind: str
    came_in_base: int
    went_out_base: int


MOVEMENT = Movement._meta.db_table
LOT = Lot._meta.db_table
POSTING = Posting._meta.db_table
KINDS = ", ".join(f"'{kind}'" for kind in FLOWING_KINDS)


def downstream_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and all they flowed into. One statement."""
    return reached_ids(lot_ids, Direction.DOWNSTREAM)


def upstream_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and all that flowed into them. One statement."""
    return reached_ids(lot_ids, Direction.UPSTREAM)


def reached_ids(
    lot_ids: Iterable[int],
    direction: Direction,
    *,
    depth_max: int | None = None,
    most: int | None = None,
) -> set[int]:
    """The lots and all upstream or downstream of them. One statement, none for no lots.

    Args:
        lot_ids: Where the walk begins.
        direction: Which way.
        depth_max: Most postings between a lot and the start, > 0. The work grows with it where
            lots flow round and round, as regrind does: a lot is then found at many depths.
        most: Stop the walk after so many lots; which ones is left open.
    """
    return _reached(each_id(), set(lot_ids), direction, depth_max=depth_max, most=most)


def reached_from_taken_ids(posting_ids: Iterable[int]) -> set[int]:
    """The lots that postings took and all upstream of them. One statement, none for none."""
    begin = f"""
        SELECT lot_id AS id FROM {MOVEMENT}
        WHERE posting_id {within(each_id())} AND qty_base < 0
    """  # noqa: S608 - our own table name
    return _reached(begin, set(posting_ids), Direction.UPSTREAM)


def _reached(
    begin: str,
    ids: set[int],
    direction: Direction,
    *,
    depth_max: int | None = None,
    most: int | None = None,
) -> set[int]:
    if not ids:
        return set()
    here = within(_postings_of("= reached.lot_id", direction))
    # Without a limit the depth stays 0, so that UNION drops a lot that is found again.
    step, limit, distinct = (0, 1, "") if depth_max is None else (1, int(depth_max), "DISTINCT")
    sql = f"""
        WITH RECURSIVE reached (lot_id, depth) AS (
            SELECT start.id, 0 FROM ({begin}) AS start
            UNION
            SELECT onward.lot_id, reached.depth + {step}
            FROM reached CROSS JOIN {MOVEMENT} onward
            WHERE reached.depth < {limit}
              AND onward.posting_id {here} AND onward.qty_base {SIGNS[direction][1]} 0
        )
        SELECT {distinct} lot_id FROM reached
    """  # noqa: S608 - our own table names and numbers
    if most is not None:
        sql += f" LIMIT {int(most)}"
    return {lot_id for (lot_id,) in _rows(sql, ids)}


class AmongTakers(Among):
    """A condition for `filter`: the posting in the column flows, and took one of the lots.

    `Entry.objects.filter(AmongTakers("pk", lot_ids))`.
    """

    def among(self) -> str:
        """A query for these postings."""
        return _postings_of(within(each_id()), Direction.DOWNSTREAM)


def flow_sides(
    lot_ids: Iterable[int], direction: Direction, *, also: Iterable[int] = ()
) -> list[Side]:
    """Both sides of every flowing posting that took (downstream) or made (upstream) such a lot.

    All lots of those postings, not only the ones given. By posting, then lot. One statement.

    Args:
        lot_ids: Lots, as of `reached_ids`.
        direction: Which way.
        also: Ids of postings to be added.
    """
    return list(map(Side._make, flow_rows(lot_ids, direction, also=also)))


def flow_rows(
    lot_ids: Iterable[int], direction: Direction, *, also: Iterable[int] = ()
) -> list[tuple[int, int, int]]:
    """The columns of `flow_sides`: a hundred thousand rows are made faster without names."""
    postings = f"{_postings_of(within(each_id()), direction)} UNION ALL {each_id()}"
    sql = f"""
        SELECT m.posting_id, m.lot_id, m.qty_base FROM {MOVEMENT} m
        WHERE m.posting_id {within(postings)} AND m.qty_base <> 0
    """  # noqa: S608 - our own table names
    return sorted(_rows(sql, lot_ids, also))


def lot_changes(lot_ids: Iterable[int]) -> list[LotChange]:
    """What came into these lots and went out, by kind of posting, without what was reversed.

    What came in less what went out is what a lot holds. By lot, then kind. One statement.
    """
    return list(map(LotChange._make, _changes("m.lot_id", lot_ids)))


def item_changes(lot_ids: Iterable[int]) -> list[ItemChange]:
    """The same, summed up by item. One statement."""
    item = f"(SELECT lot.item_id FROM {LOT} lot WHERE lot.id = m.lot_id)"  # noqa: S608 - our own table name
    return list(map(ItemChange._make, _changes(item, lot_ids)))


def _changes(key: str, lot_ids: Iterable[int]) -> list[tuple[int, str, int, int]]:
    """By an expression of a movement, then kind."""
    sql = f"""
        SELECT {key} AS key, (SELECT p.kind FROM {POSTING} p WHERE p.id = m.posting_id) AS kind,
               SUM(CASE WHEN m.qty_base > 0 THEN m.qty_base ELSE 0 END),
               SUM(CASE WHEN m.qty_base < 0 THEN -m.qty_base ELSE 0 END)
        FROM {MOVEMENT} m WHERE m.lot_id {within(each_id())} AND m.qty_base <> 0 AND {_stands("m")}
        GROUP BY 1, 2
    """  # noqa: S608 - our own table names
    return sorted(
        (key, kind, int(came_in), int(went_out))
        for key, kind, came_in, went_out in _rows(sql, lot_ids)
        if kind != PostingKind.REVERSED
    )


def came_to_be() -> Exists:
    """An annotation of lots: whether one came in or was made by a posting that stands."""
    births = Movement.objects.filter(is_standing("posting_id"), lot=OuterRef("pk"), qty_base__gt=0)
    return Exists(births.exclude(posting__kind=PostingKind.REVERSED))


def is_standing(posting: str) -> NegatedExpression[Combinable]:
    """A condition for `filter`: the posting in that column was not reversed.

    `Entry.objects.filter(is_standing("posting"))`. Unlike a join through the posting it leaves the
    planner no other table to begin with.
    """
    return ~Exists(Posting.objects.filter(reverses=OuterRef(posting)))


def _postings_of(lots: str, direction: Direction) -> str:
    """A query for the ids of the flowing postings that have these lots on this side."""
    return f"""
        SELECT here.posting_id FROM {MOVEMENT} here
        WHERE here.lot_id {lots} AND here.qty_base {SIGNS[direction][0]} 0
          AND (SELECT p.kind FROM {POSTING} p WHERE p.id = here.posting_id) IN ({KINDS})
          AND {_stands("here")}
    """  # noqa: S608 - our own table names


def _stands(movement: str) -> str:
    """The condition that a movement's posting was not reversed."""
    return f"(SELECT r.id FROM {POSTING} r WHERE r.reverses_id = {movement}.posting_id) IS NULL"  # noqa: S608 - our own table name


def _rows(sql: str, *ids: Iterable[int]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, [parameter(each) for each in ids])
        return list(cursor.fetchall())
