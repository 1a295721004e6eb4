"""Every address. The floors above are named as text, because imports only point down."""

from __future__ import annotations

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.urls import include, path

from shopfloor.api import root
from shopfloor.pages import own
from shopfloor.routes import by_first_word

# The page that shows the API draws with styles and pictures of its own making.
_docs = csp_update({"style-src": [UNSAFE_INLINE], "img-src": [SELF, "data:"]})(
    own.DescriptionPage.as_view(url_name="schema")
)

_api = [include("shopfloor.api"), include("inventory.urls"), include("batches.urls")]
_pages = [include("batches.page_urls"), include("inventory.page_urls"), include("shopfloor.pages")]

urlpatterns = [
    path(root.API_ROOT, include(by_first_word(path("", each) for each in _api))),
    *by_first_word(
        [
            *(path("", each) for each in _pages),
            path("health/", root.HealthDoor.as_view(), name="health"),
            path("api/docs/", _docs, name="api-docs"),
        ]
    ),
]

handler400 = "shopfloor.problems.handler400"
handler403 = "shopfloor.problems.handler403"
handler404 = "shopfloor.problems.handler404"
handler500 = "shopfloor.problems.handler500"
