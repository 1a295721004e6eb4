"""Doors of papers, of the record of printing, and of scans."""

from __future__ import annotations

from batches.labels.api import papers, printings, scanning

urlpatterns = [*papers.urlpatterns, *printings.urlpatterns, *scanning.urlpatterns]
