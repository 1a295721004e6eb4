"""Pages of planning."""

from __future__ import annotations

from batches.planning.pages import asking, plans, suggested, weeks

urlpatterns = [
    *plans.urlpatterns,
    *suggested.urlpatterns,
    *asking.urlpatterns,
    *weeks.urlpatterns,
]
