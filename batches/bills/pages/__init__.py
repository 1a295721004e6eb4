"""Pages of stages and of bills of materials."""

from __future__ import annotations

from batches.bills.pages import answers, bills, stages

urlpatterns = [*stages.urlpatterns, *bills.urlpatterns, *answers.urlpatterns]
