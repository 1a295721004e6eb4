"""Made-up shops: what each needs a day, how long orders take, in what packs, at what price.

Nothing here is measured in a shop: the ranges are invented to be neither easy nor absurd. A need
falls on working days, drifts from year to year, and its pattern is that of the item's kind.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
import numpy.typing as npt

KINDS: Final = (
    "smooth",
    "seasonal",
    "erratic",
    "intermittent",
    "lumpy",
    "late supplier",
    "price breaks",
    "shelf life",
)
TARGETS: Final = (0.95, 0.97, 0.98, 0.99)
HISTORY_DAYS: Final = 730
LIVED_DAYS: Final = 1826
REVIEW_DAYS: Final = 7
ORDER_COST: Final = 25.0
HOLDING_RATIO: Final = 0.25

_YEAR: Final = 365.25
_ORDERS_DRAWN: Final = 300
_KNOWN_MAX: Final = 12


@dataclass(frozen=True, slots=True, eq=False)
class Wares:
    """Every item of every shop, a row each; amounts in pieces, prices in the currency.

    Attributes:
        kind: Of `KINDS`, by number.
        target: Fill rate wanted.
        need: (items, days) int64: two years on record, then those that are lived.
        lead_days: (items, orders) int64: how long each order will take, in turn.
        past_leads: Lead times on record when the lived years begin.
        quoted_days: The supplier's word.
        breaks: (packs from, price of a pack) ascending.
        shelf_days: 0 where it does not spoil.
        start: On hand when the lived years begin.
        mean: (items, days) float32: the mean that the need was drawn with.
        lump: Variance of a need over its mean, likewise.
        lead: Mean and standard deviation of lead times, likewise: (items, 2).
    """

    kind: npt.NDArray[np.int64]
    target: npt.NDArray[np.float64]
    need: npt.NDArray[np.int64]
    lead_days: npt.NDArray[np.int64]
    past_leads: list[list[int]]
    quoted_days: npt.NDArray[np.int64]
    pack: npt.NDArray[np.int64]
    breaks: list[list[tuple[int, float]]]
    shelf_days: npt.NDArray[np.int64]
    start: npt.NDArray[np.int64]
    mean: npt.NDArray[np.float32]
    lump: npt.NDArray[np.float64]
    lead: npt.NDArray[np.float64]

    @property
    def price(self) -> npt.NDArray[np.float64]:
        """Of one piece, bought by the pack."""
        return np.array([each[0][1] for each in self.breaks]) / self.pack

    def only(self, is_kept: npt.NDArray[np.bool_]) -> Wares:
        """Some of the items."""
        rows = np.flatnonzero(is_kept)
        kept: dict[str, Any] = {}
        for each in fields(self):
            column = getattr(self, each.name)
            is_ragged = isinstance(column, list)
            kept[each.name] = [column[row] for row in rows] if is_ragged else column[rows]
        return Wares(**kept)


def wares(*, shops: int, seed: int) -> Wares:
    """One item of every kind for each shop."""
    rows: list[dict[str, Any]] = [
        _ware(kind, np.random.default_rng([seed, shop, kind]))
        for shop in range(shops)
        for kind in range(len(KINDS))
    ]
    columns: dict[str, Any] = {name: [row[name] for row in rows] for name in rows[0]}
    ragged = ("past_leads", "breaks")
    arrays = {name: np.array(each) for name, each in columns.items() if name not in ragged}
    return Wares(**columns | arrays)


def _ware(kind: int, rng: np.random.Generator) -> dict[str, Any]:
    name = KINDS[kind]
    need, mean, lump = _need(name, rng)
    per_day = max(need[:HISTORY_DAYS].mean(), 1e-3)
    per_year = per_day * 365
    value_per_year = float(np.exp(rng.uniform(np.log(500), np.log(20_000))))
    price = value_per_year / per_year
    economic = float(np.sqrt(2 * per_year * ORDER_COST / (HOLDING_RATIO * price)))
    pack = max(1, round(economic * rng.uniform(0.1, 0.6)))
    quoted = 7 * int(rng.choice([1, 2, 3, 4, 6, 8, 10]))
    shelf = 0
    if name == "shelf life":
        shelf = int(rng.integers(150, 366))
        pack = max(1, min(pack, round(per_day * shelf * 0.15)))
    leads = _leads(quoted, is_late=name == "late supplier", rng=rng)
    known = int(rng.integers(1, _KNOWN_MAX + 1))
    breaks = [(1, price * pack)]
    if name == "price breaks":
        first, second = int(rng.integers(3, 8)), int(rng.integers(10, 25))
        breaks += [(first, price * pack * 0.95), (second, price * pack * 0.9)]
    return {
        "kind": kind,
        "target": TARGETS[int(rng.integers(len(TARGETS)))],
        "need": need,
        "lead_days": leads[_KNOWN_MAX:],
        "past_leads": leads[:known].tolist(),
        "quoted_days": quoted,
        "pack": pack,
        "breaks": breaks,
        "shelf_days": shelf,
        "mean": mean,
        "lump": lump,
        "lead": (leads.mean(), leads.std()),
        "start": round(per_day * (quoted + REVIEW_DAYS) * 1.3) + pack,
    }


def _leads(quoted: int, *, is_late: bool, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    orders = _KNOWN_MAX + _ORDERS_DRAWN
    cv = rng.uniform(0.08, 0.2)
    days = quoted * rng.gamma(1 / cv**2, cv**2, orders)
    if is_late:
        share = rng.uniform(0.2, 0.4)
        days = np.where(rng.random(orders) < share, quoted * rng.uniform(1.3, 2.0, orders), days)
    return np.maximum(1, np.rint(days)).astype(np.int64)


def _level(name: str, rng: np.random.Generator) -> npt.NDArray[np.float64]:
    """The mean need of a day over time, of mean 1 at the beginning but for the season."""
    days = np.arange(HISTORY_DAYS + LIVED_DAYS)
    years = days / _YEAR
    knots = np.concatenate([[0.0], np.cumsum(rng.normal(0.0, 0.08, 7))])
    level = np.exp(np.interp(years, np.arange(8), knots))
    if name == "seasonal" or (name in {"late supplier", "shelf life"} and rng.random() < 0.5):
        height = rng.uniform(0.35, 0.8)
        wave = np.exp(height * np.cos(2 * np.pi * (years - rng.uniform(0, 1))))
        level = level * wave / np.i0(height)
    return np.asarray(level)


def _need(
    name: str, rng: np.random.Generator
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float32], float]:
    """What is needed each day, the mean it is drawn with, and its variance over that."""
    level = _level(name, rng)
    days = len(level)
    is_work = np.arange(days) % 7 < 5
    if name == "intermittent":
        often, size = rng.uniform(1 / 40, 1 / 10), rng.uniform(1, 12)
        sizes = 1 + rng.poisson(size - 1, days)
    elif name == "lumpy":
        often, size, cv = rng.uniform(1 / 30, 1 / 8), rng.uniform(20, 200), rng.uniform(0.8, 1.3)
        sizes = np.ceil(size * _lognormal(cv, days, rng))
    elif name == "erratic":
        often, size, cv = rng.uniform(0.25, 0.5), rng.uniform(20, 500), rng.uniform(0.9, 1.4)
        sizes = np.ceil(size * _lognormal(cv, days, rng))
    else:
        often, size, cv = rng.uniform(0.6, 1.0), rng.uniform(10, 1_000), rng.uniform(0.2, 0.6)
        sizes = np.rint(size * rng.gamma(1 / cv**2, cv**2, days))
    # A busier time has more batches, and where every day has one, larger ones.
    chance = often * level
    sizes = np.rint(sizes * np.maximum(1.0, chance))
    used = (rng.random(days) < chance) & is_work
    need = np.where(used, sizes, 0).astype(np.int64)
    mean = np.where(is_work, chance * sizes.mean() / np.maximum(1.0, chance).mean(), 0.0)
    own = float((sizes**2).mean() / sizes.mean() - mean.mean())
    return need, mean.astype(np.float32), own


def _lognormal(cv: float, count: int, rng: np.random.Generator) -> npt.NDArray[np.float64]:
    variance = np.log1p(cv**2)
    return np.exp(rng.normal(-variance / 2, np.sqrt(variance), count))
