"""Addresses of planning; each subject's doors stand in the file of its name."""

from __future__ import annotations

from batches.planning.api import buildable, plans, promises, requirements, starting, suggested

urlpatterns = [
    *buildable.urlpatterns,
    *plans.urlpatterns,
    *promises.urlpatterns,
    *requirements.urlpatterns,
    *starting.urlpatterns,
    *suggested.urlpatterns,
]
