"""Every address. The floors above are named as text, because imports only point down."""

from __future__ import annotations

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth.decorators import login_required
from django.urls import URLPattern, URLResolver, include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from shopfloor import api, pages

api_patterns: list[URLPattern | URLResolver] = [
    path("", api.RootDoor.as_view()),
    path("schema/", SpectacularAPIView.as_view(), name="schema"),
    path("me/", api.MeDoor.as_view()),
    path("me/password/", api.MyPasswordDoor.as_view()),
    path("people/", api.PeopleDoor.as_view()),
    path("people/<str:username>/role/", api.PersonRoleDoor.as_view()),
    path("people/<str:username>/active/", api.PersonActiveDoor.as_view()),
    path("people/<str:username>/password/", api.PersonPasswordDoor.as_view()),
    path("people/<str:username>/blank/", api.PersonBlankDoor.as_view()),
    path("tokens/", api.TokensDoor.as_view()),
    path("tokens/<int:token_id>/revoke/", api.TokenRevokeDoor.as_view()),
    path("", include("inventory.urls")),
    path("", include("batches.urls")),
]

# The page that shows the API draws with styles and pictures of its own making.
_docs = csp_update({"style-src": [UNSAFE_INLINE], "img-src": [SELF, "data:"]})(
    login_required(SpectacularSwaggerSplitView.as_view(url_name="schema"))
)

urlpatterns = [
    path("", include("batches.page_urls")),
    path("sign-in/", pages.SignInPage.as_view(), name="sign-in"),
    path("sign-out/", pages.SignOutPage.as_view(), name="sign-out"),
    path("problems/<str:code>", login_required(pages.problem_page), name="problem"),
    path("health/", api.health, name="health"),
    path("api/docs/", _docs, name="api-docs"),
    path(api.API_ROOT, include(api_patterns)),
]

handler400 = "shopfloor.problems.handler400"
handler403 = "shopfloor.problems.handler403"
handler404 = "shopfloor.problems.handler404"
handler500 = "shopfloor.problems.handler500"
