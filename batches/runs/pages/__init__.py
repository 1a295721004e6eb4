"""Pages of runs: batches and entries for the office, the bench for who makes them."""

from __future__ import annotations

from batches.runs.pages import batches, bench

urlpatterns = [*batches.urlpatterns, *bench.urlpatterns]
