"""The best mix of several lures from what is there today, for people."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from django.db.models import Max

from batches.bills.selectors.costs import material_costs
from batches.packing.models import CustomerOrderLine, CustomerOrderState
from batches.planning.rules.buildable import Built, best, missing_for_one_more, with_more
from batches.planning.rules.program import PIECES_CAP, Goal, Question
from batches.planning.selectors.buildable import (
    PiecesRow,
    StepRow,
    caveats,
    hours_of,
    packs_base,
    step_rows,
)
from batches.planning.selectors.shop import ShopToday, refuse_not_made, shop_today
from inventory.stock.selectors.amounts import AmountRow, amount_of, in_words
from shopfloor.errors import InvalidInputError
from shopfloor.money import money_text

BY_CHOICES: Final = ("margin", "demand")
LURES_MAX: Final = 40
ASKED_AGAIN_MAX: Final = 5
"""So many of the items that stop the most lures are asked what one more pack would give."""


class MixLureRow(NamedTuple):
    """One lure of a mix."""

    item: str
    item_name: str
    pieces: int
    most: int | None
    price: str | None
    material: str | None
    missing_for_one_more: list[str]


class LeftOutRow(NamedTuple):
    """A lure that could not be weighed, and why."""

    item: str
    why: str


class MoreRow(NamedTuple):
    """What one pack more of an item alone would give, or one bench hour."""

    item: str | None
    more: AmountRow | None
    gain: str
    lures: list[PiecesRow]


class MixRow(NamedTuple):
    """The best mix."""

    by: str
    value: str
    value_at_most: str
    is_best: bool
    lures: list[MixLureRow]
    left_out: list[LeftOutRow]
    hours: str
    untimed: list[str]
    with_more: list[MoreRow]
    steps: list[StepRow]
    why: list[str]


class _Worth(NamedTuple):
    """What one lure is worth, in millionths of the currency where it is money."""

    value: int
    price_micro: int | None = None
    material_micro: int | None = None


def mix(
    *, now: datetime, by: str, lures: Mapping[str, int | None], hours: Decimal | None = None
) -> MixRow:
    """The mix worth most that can be built now. At most thirteen statements.

    Args:
        now: When.
        by: "margin", price less material, or "demand", pieces that open orders wait for.
        lures: At most how many of which, None for any number; empty: all that go into nothing else,
            or all that open orders wait for.
        hours: Bench hours that there are; None: as many as it takes.

    Raises:
        NotFoundError, NotActiveError, NoCurrentBillError: one cannot be made.
        InvalidInputError: they are too many.
    """
    today = shop_today(now)
    most = _asked(today, lures, by)
    worth, left_out = _worths(most, by)
    goals = {code: Goal(each.value, most[code]) for code, each in worth.items()}
    minutes_max = None if hours is None else Fraction(hours) * 60
    question = Question(shop=today.shop, goals=goals, minutes_max=minutes_max)
    built = best(question)
    assert built is not None, "nothing is asked for at least"
    missing = missing_for_one_more(question, built)
    more = list(_more(today, question, built, missing, by))
    return MixRow(
        by=by,
        value=_shown(by, built.value),
        value_at_most=_shown(by, built.value_max),
        is_best=built.is_best,
        lures=[
            MixLureRow(
                item=code,
                item_name=today.items[code].name,
                pieces=pieces,
                most=most[code] if most[code] < PIECES_CAP else None,
                price=_money(worth[code].price_micro),
                material=_money(worth[code].material_micro),
                missing_for_one_more=sorted(missing.get(code, ())),
            )
            for code, pieces in built.pieces.items()
        ],
        left_out=left_out,
        hours=hours_of(today, built.walk),
        untimed=today.untimed(run.item for run in built.walk.runs),
        with_more=more,
        steps=step_rows(today, built.walk),
        why=_why(today, built, by, more, left_out),
    )


def _asked(today: ShopToday, lures: Mapping[str, int | None], by: str) -> dict[str, int]:
    """At most how many of which."""
    unmet = today.unmet() if by == "demand" else {}
    found = {}
    for code, most in lures.items():
        refuse_not_made(today, code)
        wanted = unmet.get(code, 0) if by == "demand" else PIECES_CAP
        found[code] = min(wanted if most is None else most, PIECES_CAP)
    if not lures:
        found = unmet if by == "demand" else dict.fromkeys(_tops(today), PIECES_CAP)
    if len(found) > LURES_MAX:
        raise InvalidInputError(
            f"A mix is of at most {LURES_MAX} lures, and these are {len(found)}. Name some.",
            lures=len(found),
        )
    return found


def _tops(today: ShopToday) -> list[str]:
    """What is made, in use, and goes into nothing else."""
    taken = {
        code
        for recipe in today.shop.recipes.values()
        for take in recipe.takes
        for code in take.family
    }
    return [code for code in today.sheets if code not in taken and today.items[code].is_active]


def _worths(most: Mapping[str, int], by: str) -> tuple[dict[str, _Worth], list[LeftOutRow]]:
    if by == "demand":
        return {code: _Worth(1) for code in most}, []
    prices, costs = _prices(most), material_costs(most)
    worth, left_out = {}, []
    for code in most:
        price, cost = prices.get(code), costs[code]
        if price is None:
            left_out.append(LeftOutRow(code, "No customer order has it, so no price is known."))
        elif cost is None:
            left_out.append(LeftOutRow(code, "The cost of something in it is not known."))
        else:
            worth[code] = _Worth(price - round(cost), price, round(cost))
    return worth, left_out


def _prices(codes: Iterable[str]) -> dict[str, int]:
    """Price of one by the last customer order that has it. Two statements."""
    lines = CustomerOrderLine.objects.filter(item__code__in=list(codes)).exclude(
        order__state=CustomerOrderState.CANCELLED
    )
    last = lines.order_by().values("item").annotate(last=Max("pk")).values_list("last", flat=True)
    return dict(
        CustomerOrderLine.objects.filter(pk__in=list(last)).values_list("item__code", "price_micro")
    )


def _more(
    today: ShopToday,
    question: Question,
    built: Built,
    missing: Mapping[str, Mapping[str, int]],
    by: str,
) -> Iterable[MoreRow]:
    """What is short, and what a pack more of each alone would give, the most first."""
    stops = Counter(code for each in missing.values() for code in each)
    short = sorted(stops, key=lambda code: (-stops[code], code))[:ASKED_AGAIN_MAX]
    found: list[tuple[Built, str | None, AmountRow | None]] = [
        (
            with_more(question, built, item=code, more_base=pack),
            code,
            amount_of(today.items[code], pack),
        )
        for code, pack in packs_base(today, short).items()
    ]
    if question.minutes_max is not None:
        found.append((with_more(question, built, more_minutes=60), None, None))
    for then, code, more in sorted(found, key=lambda each: (-each[0].value, each[1] or "")):
        lures = [PiecesRow(*each) for each in then.pieces.items()]
        yield MoreRow(code, more, _shown(by, then.value - built.value), lures)


def _why(
    today: ShopToday, built: Built, by: str, more: Iterable[MoreRow], left_out: list[LeftOutRow]
) -> list[str]:
    parts = [f"{pieces} of {code}" for code, pieces in built.pieces.items() if pieces]
    noun = "margin, price less material, labor not counted" if by == "margin" else "pieces wanted"
    said = [f"Build {', '.join(parts) or 'nothing'}: {_shown(by, built.value)} {noun}."]
    if not built.is_best:
        said.append(
            f"That is a mix that works; that none is worth more, up to"
            f" {_shown(by, built.value_max)}, could not be proved in time."
        )
    for row in more:
        what = "One more bench hour"
        if row.item is not None and row.more is not None:
            what = f"One more pack of {row.item}, {in_words(row.more)},"
        said.append(f"{what} gives {row.gain} more.")
    said += [f"{row.item} is left out. {row.why}" for row in left_out]
    return [*said, *caveats(today, built.walk)]


def _shown(by: str, value: int) -> str:
    return money_text(value) if by == "margin" else str(value)


def _money(micro: int | None) -> str | None:
    return None if micro is None else money_text(micro)
