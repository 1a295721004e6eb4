"""What can be built today, with its bottlenecks, for people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from batches.planning.rules.buildable import Built, best, limits, with_more
from batches.planning.rules.making import Take, Walk
from batches.planning.rules.program import PIECES_CAP, Goal, Question
from batches.planning.selectors.shop import ShopToday, refuse_not_made, shop_today
from inventory.reorder.selectors.buying import offers_used
from inventory.stock.selectors.amounts import AmountRow, amount_of, in_words

BOTTLENECKS: Final = 5
"""So many of what is tightest are told, with what one more pack would give."""


class TakenRow(NamedTuple):
    """What a run takes of one item."""

    item: str
    amount: AmountRow
    stands_for: str | None


class StepRow(NamedTuple):
    """One batch to make."""

    item: str
    item_name: str
    stage: str
    good: AmountRow
    worked: AmountRow
    takes: list[TakenRow]


class BottleneckRow(NamedTuple):
    """An item that has to be there, and how far it goes.

    Attributes:
        allows: Pieces, were there plenty of all else; None: more than anybody asks.
        pack: Of the offer it would be ordered by; None: nobody offers it.
        more_with_pack: Pieces more with one pack more of this alone.
        is_made: It is something we make, and no bill of it is in force.
    """

    item: str
    item_name: str
    free: AmountRow
    allows: int | None
    pack: AmountRow | None
    more_with_pack: int | None
    is_made: bool


class PiecesRow(NamedTuple):
    """So many pieces of an item."""

    item: str
    pieces: int


class BuildableRow(NamedTuple):
    """The most of one item that can be built today.

    Attributes:
        at_most: No plan makes more; above `pieces` only if that could not be proved in time.
        usable: Finished ones on the shelf, beside.
        promised: What open orders wait for.
        set_aside: What was built first, for open orders of others.
    """

    item: str
    item_name: str
    pieces: int
    at_most: int
    usable: AmountRow
    promised: int
    hours: str
    untimed: list[str]
    set_aside: list[PiecesRow]
    bottlenecks: list[BottleneckRow]
    steps: list[StepRow]
    why: list[str]


_MEANT: Final = (
    "Meant is one batch of each item; scrap is what the bills plan; what open batches will still"
    " take is not set aside, and what comes off beside is not counted on."
)

MADE_KINDS: Final = frozenset({"half", "body", "painted_body", "lure", "set"})


def buildable(
    *, item_code: str, now: datetime, hours: Decimal | None = None, orders_first: bool = True
) -> BuildableRow:
    """The most of one item that can be built now. Seven statements.

    Args:
        item_code: It.
        now: When.
        hours: Bench hours that there are; None: as many as it takes.
        orders_first: Whether what open orders of other items still lack is built before.

    Raises:
        NotFoundError, NotActiveError, NoCurrentBillError: it cannot be made.
    """
    today = shop_today(now)
    refuse_not_made(today, item_code)
    minutes_max = None if hours is None else Fraction(hours) * 60
    aside = _set_aside(today, item_code, minutes_max) if orders_first else {}
    question = _question(today, item_code, aside, minutes_max)
    built = best(question)
    if built is None:  # what is set aside was not found to go with it, in the time there is
        aside = {}
        question = _question(today, item_code, aside, minutes_max)
        built = best(question)
    assert built is not None, "nothing is asked for at least"
    rows = _bottlenecks(today, question, item_code, built)
    return BuildableRow(
        item=item_code,
        item_name=today.items[item_code].name,
        pieces=built.pieces[item_code],
        at_most=built.value_max,
        usable=amount_of(today.items[item_code], today.usable_base.get(item_code, 0)),
        promised=today.promised_base.get(item_code, 0),
        hours=hours_of(today, built.walk),
        untimed=today.untimed(run.item for run in built.walk.runs),
        set_aside=[PiecesRow(code, pieces) for code, pieces in aside.items()],
        bottlenecks=rows,
        steps=step_rows(today, built.walk),
        why=_why(today, item_code, built, aside, rows, minutes_max),
    )


def hours_of(today: ShopToday, way: Walk) -> str:
    """Bench hours of a plan, to a tenth."""
    return f"{float(way.minutes(today.shop.recipes) / 60):.1f}"


def step_rows(today: ShopToday, way: Walk) -> list[StepRow]:
    """A plan's batches, in the order to make them."""
    return [
        StepRow(
            item=run.item,
            item_name=today.items[run.item].name,
            stage=today.sheets[run.item].stage_code,
            good=amount_of(today.items[run.item], run.good),
            worked=amount_of(today.items[run.item], run.worked),
            takes=[
                TakenRow(
                    code,
                    amount_of(today.items[code], base),
                    _stands_for(code, today.shop.recipes[run.item].takes),
                )
                for code, base in run.takes_base.items()
            ],
        )
        for run in way.runs
    ]


def packs_base(today: ShopToday, codes: Iterable[str]) -> dict[str, int]:
    """Base units in a pack of the offer an item would be ordered by. Two statements."""
    ids = {today.items[code].id: code for code in codes}
    return {ids[item_id]: offer.pack_base for item_id, offer in offers_used(list(ids)).items()}


def _stands_for(code: str, takes: Sequence[Take]) -> str | None:
    if any(take.item == code for take in takes):
        return None
    return next(take.item for take in takes if code in take.family)


def _question(
    today: ShopToday, item_code: str, aside: Mapping[str, int], minutes_max: Fraction | None
) -> Question:
    goals = {code: Goal(0, most=pieces, least=pieces) for code, pieces in aside.items()}
    return Question(shop=today.shop, goals={**goals, item_code: Goal(1)}, minutes_max=minutes_max)


def _set_aside(today: ShopToday, item_code: str, minutes_max: Fraction | None) -> Mapping[str, int]:
    """What can be built of what open orders of other items lack."""
    unmet = {code: pieces for code, pieces in today.unmet().items() if code != item_code}
    if not unmet:
        return {}
    goals = {code: Goal(1, most=min(pieces, PIECES_CAP)) for code, pieces in unmet.items()}
    built = best(Question(shop=today.shop, goals=goals, minutes_max=minutes_max))
    assert built is not None, "nothing is asked for at least"
    return {code: pieces for code, pieces in built.pieces.items() if pieces}


def _bottlenecks(
    today: ShopToday, question: Question, item_code: str, built: Built
) -> list[BottleneckRow]:
    tightest = limits(question, item_code)[:BOTTLENECKS]
    packs = packs_base(today, [limit.item for limit in tightest])
    rows = []
    for limit in tightest:
        item, pack = today.items[limit.item], packs.get(limit.item)
        more = with_more(question, built, item=item.code, more_base=pack) if pack else None
        rows.append(
            BottleneckRow(
                item=item.code,
                item_name=item.name,
                free=amount_of(item, today.shop.stock_base.get(item.code, 0)),
                allows=limit.pieces,
                pack=amount_of(item, pack) if pack else None,
                more_with_pack=more.pieces[item_code] - built.pieces[item_code] if more else None,
                is_made=item.kind in MADE_KINDS,
            )
        )
    return rows


def _why(
    today: ShopToday,
    item_code: str,
    built: Built,
    aside: Mapping[str, int],
    rows: Sequence[BottleneckRow],
    minutes_max: Fraction | None,
) -> list[str]:
    pieces = built.pieces[item_code]
    said = [f"{pieces} of {item_code} can be built from what is released now."]
    if not built.is_best:
        said.append(
            f"That is a plan that works; that none makes more, up to {built.value_max}, could not"
            " be proved in time."
        )
    if pieces == PIECES_CAP:
        said.append("More was not looked for.")
    unmet = today.unmet().get(item_code, 0)
    if unmet:
        said.append(f"Open orders wait for {min(unmet, pieces)} of them.")
    if aside:
        names = ", ".join(f"{count} of {code}" for code, count in aside.items())
        said.append(f"Set aside before, for open orders: {names}.")
    elif today.unmet().keys() - {item_code}:
        said.append("Nothing is set aside for what open orders of other items lack.")
    said += [sentence for row in rows if (sentence := _said_of(row, pieces))]
    if minutes_max is not None and (
        rows and rows[0].allows is not None and rows[0].allows > pieces
    ):
        said.append("What there is would make more: the bench hours are what ends it.")
    return [*said, *caveats(today, built.walk)]


def _said_of(row: BottleneckRow, pieces: int) -> str | None:
    if row.allows is None:
        return None
    word = "the bottleneck" if row.allows <= pieces else "next"
    said = f"{row.item}, {word}: {in_words(row.free)} free, enough for {row.allows}."
    if row.is_made:
        return f"{said} No bill of it is in force, so no more can be made."
    if row.more_with_pack is None or row.pack is None:
        return said
    return f"{said} One more pack of {in_words(row.pack)} gives {row.more_with_pack} more."


def caveats(today: ShopToday, way: Walk) -> list[str]:
    """What an answer takes for granted."""
    said = [_MEANT]
    untimed = today.untimed(run.item for run in way.runs)
    if untimed:
        said.append(f"No entry says how long {', '.join(untimed)} takes: counted as no time.")
    return said
