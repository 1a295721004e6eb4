"""Where scans and links on papers lead, and pages of what was and can be printed."""

from __future__ import annotations

from batches.labels.pages import printing, scanning

urlpatterns = [*scanning.urlpatterns, *printing.urlpatterns]
