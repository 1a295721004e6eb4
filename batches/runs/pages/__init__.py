"""Pages of runs: batches, entries and scrap reasons; the bench for who makes them."""

from __future__ import annotations

from batches.runs.pages import batches, bench, reasons

urlpatterns = [*batches.urlpatterns, *bench.urlpatterns, *reasons.urlpatterns]
