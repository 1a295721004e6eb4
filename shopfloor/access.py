"""Who may do what: every address with the methods that each role may use, read from the doors."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RoutePattern

from shopfloor.permissions import is_let_in


def every_address(
    patterns: Sequence[URLPattern | URLResolver] | None = None, before: str = "/"
) -> Iterator[tuple[str, Any]]:
    """Every address with its view; a part that varies is written `{code}`."""
    for entry in get_resolver().url_patterns if patterns is None else patterns:
        if not isinstance(entry.pattern, RoutePattern):
            continue
        address = before + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(entry.pattern))
        if isinstance(entry, URLResolver):
            yield from every_address(entry.url_patterns, address)
        else:
            yield address, view_class(entry.callback)


def view_class(callback: Any) -> Any:
    """The class behind a view; `None` for a plain function."""
    return getattr(callback, "cls", None) or getattr(callback, "view_class", None)


def methods_of(view: Any, role: str) -> list[str]:
    """Methods that a role may use; a view that declares none is for nobody."""
    roles = getattr(view, "roles", {})
    return [method for method in roles if is_let_in(role=role, method=method, roles=roles)]
