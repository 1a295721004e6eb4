"""Pages of the ground floor."""

from __future__ import annotations

from shopfloor.pages import changes, demo, own, people, shop
from shopfloor.pages.own import locked_out

__all__ = ["locked_out", "own", "urlpatterns"]

urlpatterns = [
    *own.urlpatterns,
    *demo.urlpatterns,
    *people.urlpatterns,
    *changes.urlpatterns,
    *shop.urlpatterns,
]
