"""Doors of papers, of the record of printing, and of stock and scans."""

from __future__ import annotations

from batches.labels.api import charts, papers, printings, records, scanning, stocks, traces

urlpatterns = [
    *charts.urlpatterns,
    *papers.urlpatterns,
    *printings.urlpatterns,
    *records.urlpatterns,
    *stocks.urlpatterns,
    *scanning.urlpatterns,
    *traces.urlpatterns,
]
