"""Pages of checks: what is tested, a test at the bench, the plan of a lot, control charts."""

from __future__ import annotations

from batches.quality.pages import charts, checks, definitions

# `checks/plan/` and `checks/chart/` stand before `checks/CODE/`.
urlpatterns = [*definitions.urlpatterns, *charts.urlpatterns, *checks.urlpatterns]
