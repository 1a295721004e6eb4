"""How often a rise is seen by mistake, and how soon a true one: `python -m tests.bench.rises`."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from batches.watch.rules.rises import Tested, rise_of

SIZES: Final = (20, 80)


class Case(NamedTuple):
    """Made-up shops.

    Attributes:
        usual: Share of pieces that fail.
        risen: The same after the rise; as before where there is none.
        unlike: Variance of the lots' own rates over their mean squared.
        before: Looks before the rise.
        after: Looks after it.
    """

    usual: float
    risen: float
    unlike: float
    before: int
    after: int


CASES: Final = (
    Case(0.003, 0.003, 0.0, 0, 300),
    Case(0.01, 0.01, 0.0, 0, 300),
    Case(0.01, 0.01, 0.5, 0, 300),
    Case(0.003, 0.02, 0.0, 100, 60),
    Case(0.003, 0.08, 0.0, 20, 60),
    Case(0.003, 0.08, 0.0, 100, 60),
    Case(0.01, 0.03, 0.0, 100, 60),
    Case(0.01, 0.05, 0.5, 100, 60),
)


def seen_after(tests: Sequence[Tested]) -> int | None:
    """The number of looks after which a rise is seen."""
    for count in range(2, len(tests) + 1):
        if tests[count - 1].failed and rise_of(tests[:count]).is_seen:
            return count
    return None


def looks(case: Case, rng: np.random.Generator) -> list[Tested]:
    """What one shop's checks find."""
    count = case.before + case.after
    sizes = rng.integers(SIZES[0], SIZES[1] + 1, count)
    rates = np.where(np.arange(count) < case.before, case.usual, case.risen)
    if case.unlike:
        rates = np.minimum(1.0, rates * rng.gamma(1 / case.unlike, case.unlike, count))
    failed = rng.binomial(sizes, rates)
    return [Tested(int(n), int(bad)) for n, bad in zip(sizes, failed, strict=True)]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.rises", description=__doc__)
    parser.add_argument("--shops", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    head = "| usual | after the rise | lots | looks | false alerts | seen | in so many looks |"
    print(head)  # noqa: T201
    print("|" + "---|" * 7)  # noqa: T201
    for number, case in enumerate(CASES):
        rng = np.random.default_rng([options.seed, number])
        seen = [seen_after(looks(case, rng)) for _ in range(options.shops)]
        is_null = case.usual == case.risen
        false = sum(each is not None and (is_null or each <= case.before) for each in seen)
        took = [each - case.before for each in seen if each is not None and each > case.before]
        alike = f"differ, variance {case.unlike}" if case.unlike else "alike"
        rest = "| - | - |"
        if not is_null:
            soon, late = np.quantile(took, [0.5, 0.9])
            rest = f"| {len(took)} of {options.shops} | {soon:.0f}; 9 of 10 in {late:.0f} |"
        print(  # noqa: T201
            f"| {case.usual:.1%} | {'none' if is_null else f'{case.risen:.1%}'} | {alike} "
            f"| {case.after if is_null else case.before} | {false} of {options.shops} {rest}",
            flush=True,
        )


if __name__ == "__main__":
    main()
