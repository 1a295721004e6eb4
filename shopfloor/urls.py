"""Every address. The floors above are named as text, because imports only point down."""

from __future__ import annotations

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.urls import URLPattern, URLResolver, include, path

from shopfloor.api import root
from shopfloor.pages import own

api_patterns: list[URLPattern | URLResolver] = [
    path("", include("shopfloor.api")),
    path("", include("inventory.urls")),
    path("", include("batches.urls")),
]

# The page that shows the API draws with styles and pictures of its own making.
_docs = csp_update({"style-src": [UNSAFE_INLINE], "img-src": [SELF, "data:"]})(
    own.DescriptionPage.as_view(url_name="schema")
)

urlpatterns = [
    path("", include("batches.page_urls")),
    path("", include("inventory.page_urls")),
    path("", include("shopfloor.pages")),
    path("health/", root.HealthDoor.as_view(), name="health"),
    path("api/docs/", _docs, name="api-docs"),
    path(root.API_ROOT, include(api_patterns)),
]

handler400 = "shopfloor.problems.handler400"
handler403 = "shopfloor.problems.handler403"
handler404 = "shopfloor.problems.handler404"
handler500 = "shopfloor.problems.handler500"
