"""Whether enough come out good as often as was asked for: `python -m tests.bench.starting`.

Made-up stages whose true yields are known to the bench alone. Their runs are drawn, a plan is made
of these runs, and the next run is drawn, which the plan has never seen.
"""

from __future__ import annotations

import argparse
from typing import Final, NamedTuple

import numpy as np

from batches.planning.rules.starting import Stage, start_plan
from batches.planning.rules.yields import Beta, RunCount, Yield, next_yield

GOOD: Final = 100
CHANCE: Final = 0.9
PIECES: Final = (60, 180)
"""Of a past run."""


class Case(NamedTuple):
    """A stage: its true mean yield, how alike a run's pieces are, how many runs there were.

    The bill plans the true mean.
    """

    mean: float
    alike: float
    runs: int


CASES: Final = tuple(
    Case(mean, alike, runs)
    for mean, alike in ((0.97, 0.002), (0.97, 0.03), (0.9, 0.002), (0.9, 0.05))
    for runs in (0, 3, 10, 40)
)


def started(this: Yield) -> int:
    """Pieces that the plan starts."""
    plan = start_plan({"ITEM": Stage(next_yield=this)}, "ITEM", good=GOOD, chance=CHANCE)
    assert plan is not None
    assert plan.runs[0].start is not None
    return plan.runs[0].start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.starting", description=__doc__)
    parser.add_argument("--shops", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(  # noqa: T201
        "| true yield | alike | runs | asked | enough were good | started, mean | were all known |"
    )
    print("|" + "---|" * 7)  # noqa: T201
    for number, case in enumerate(CASES):
        rng = np.random.default_rng([options.seed, number])
        truth = Beta(case.mean, case.alike)
        counts, enough = [], []
        for _ in range(options.shops):
            worked = rng.integers(*PIECES, case.runs)
            good = rng.binomial(worked, rng.beta(*truth.shape, case.runs))
            runs = [RunCount(int(n), int(k)) for n, k in zip(worked, good, strict=True)]
            counts.append(started(next_yield(runs, planned=case.mean)))
            enough.append(rng.binomial(counts[-1], rng.beta(*truth.shape)) >= GOOD)
        print(  # noqa: T201
            f"| {case.mean:.0%} | {case.alike:g} | {case.runs} | {CHANCE:.0%}"
            f" | {np.mean(enough):.1%} | {np.mean(counts):.1f} | {started(Yield((truth,)))} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
