"""Pages of runs: batches and entries for the office, the bench for who makes them, scrap reasons."""

from __future__ import annotations

from batches.runs.pages import batches, bench, reasons

urlpatterns = [*batches.urlpatterns, *bench.urlpatterns, *reasons.urlpatterns]
