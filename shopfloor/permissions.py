"""Who may come in: a door declares its roles by method, and what is not declared is for nobody.

Apart from the doors, because the API framework loads it before it can load any door.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shopfloor.roles import NOBODY, Role

if TYPE_CHECKING:
    from rest_framework.views import APIView

Roles = Mapping[str, frozenset[Role]]


def is_let_in(*, role: str, method: str | None, roles: Roles) -> bool:
    """Whether a role may use a method; HEAD is GET without the body."""
    return role in roles.get("GET" if method == "HEAD" else method or "", NOBODY)


class DeclaredRoles(BasePermission):
    """Lets a signed-in person in where the door's `roles` say so."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        """A method the door lacks passes, to be answered 405."""
        if not request.user.is_authenticated:
            return False
        method = request.method or ""
        if method.lower() not in view.http_method_names or not hasattr(view, method.lower()):
            return True
        roles: Roles = getattr(view, "roles", {})
        return is_let_in(role=request.user.role, method=method, roles=roles)
