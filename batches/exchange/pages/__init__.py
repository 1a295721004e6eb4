"""Pages of imports: sheets checked in their own grid, templates, headings kept."""

from __future__ import annotations

from batches.exchange.pages import importing, records

urlpatterns = [*importing.urlpatterns, *records.urlpatterns]
