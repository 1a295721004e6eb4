"""The made-up shops of the causes bench: what customers tell of adds up, and is named."""

from __future__ import annotations

import numpy as np
import pytest

from batches.trace.rules.causes import findings
from tests.bench.causes import shop_of
from tests.bench.causes_told import ToldShop


@pytest.mark.parametrize(
    "scenario", ["customers: a bad adhesive lot", "bench, check and customers: a bad adhesive lot"]
)
def test_a_bad_lot_that_customers_tell_of_is_named(scenario: str) -> None:
    shop = shop_of(scenario, 5, 1)
    assert isinstance(shop, ToldShop)
    results, exposures = shop.seen()
    assert results.failed.sum() == pytest.approx(shop.failed.sum())  # no complaint is lost
    told = results.test == results.test.max()
    left = sum(sum(flow.taken.values()) for flow in shop.boxes.flows)
    assert 0.5 * left < results.tested[told].sum() <= left  # those lately gone count for less
    assert np.all(results.failed <= results.tested)
    [cause] = findings(results, exposures).causes
    assert (cause.number,) == shop.truth
