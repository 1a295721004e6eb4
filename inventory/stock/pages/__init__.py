"""Pages of the ledger: lots, holds, counts, postings and the books."""

from __future__ import annotations

from inventory.stock.pages import books, counts, stock

urlpatterns = [*stock.urlpatterns, *counts.urlpatterns, *books.urlpatterns]
