"""Every address. The floors above are named as text, because imports only point down."""

from __future__ import annotations

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.urls import URLPattern, URLResolver, include, path

from shopfloor import pages
from shopfloor.api import root

api_patterns: list[URLPattern | URLResolver] = [
    path("", include("shopfloor.api")),
    path("", include("inventory.urls")),
    path("", include("batches.urls")),
]

# The page that shows the API draws with styles and pictures of its own making.
_docs = csp_update({"style-src": [UNSAFE_INLINE], "img-src": [SELF, "data:"]})(
    pages.DescriptionPage.as_view(url_name="schema")
)

urlpatterns = [
    path("", include("batches.page_urls")),
    path("", include("inventory.page_urls")),
    path("sign-in/", pages.SignInPage.as_view(), name="sign-in"),
    path("sign-out/", pages.SignOutPage.as_view(), name="sign-out"),
    path("me/", pages.MePage.as_view(), name="me"),
    path("me/password/", pages.MyPasswordPage.as_view()),
    path("me/sign-out-everywhere/", pages.SignOutEverywherePage.as_view()),
    path("choices/<str:folder>/", pages.ChoicesPage.as_view()),
    path("words/", pages.WordsPage.as_view()),
    path("problems/<str:code>", pages.ProblemPage.as_view(), name="problem"),
    path("health/", root.HealthDoor.as_view(), name="health"),
    path("api/docs/", _docs, name="api-docs"),
    path(root.API_ROOT, include(api_patterns)),
]

handler400 = "shopfloor.problems.handler400"
handler403 = "shopfloor.problems.handler403"
handler404 = "shopfloor.problems.handler404"
handler500 = "shopfloor.problems.handler500"
