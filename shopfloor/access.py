"""Who may do what: every address with the methods that each role may use, read from the doors."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RoutePattern

from shopfloor.permissions import is_let_in
from shopfloor.roles import Role


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


def role_page() -> str:
    """The page docs/roles.md: a row for each address and method, a column for each role."""
    rows = sorted(_role_rows())
    return "\n".join([_PAGE_HEAD, *(row for _, _, row in rows), ""])


_PAGE_HEAD = """\
# Who may do what

Made of the doors by `manage.py roles > docs/roles.md`; tests compare the two and try every row.
What is not named here is for nobody. What is open needs no sign-in, nor do files under `/static/`.

| Address | Method | Owner | Lead | Bench | Packer | Viewer | Nobody |
| --- | --- | --- | --- | --- | --- | --- | --- |"""


def _role_rows() -> Iterator[tuple[str, str, str]]:
    for address, view in every_address():
        for method in getattr(view, "open_to_all", ()):
            yield address, method, _row(address, method, ["open"] * (len(Role) + 1))
        for method, roles in getattr(view, "roles", {}).items():
            marks = ["yes" if role in roles else "-" for role in Role]
            yield address, method, _row(address, method, [*marks, "-"])


def _row(address: str, method: str, marks: Sequence[str]) -> str:
    return f"| `{address}` | {method} | {' | '.join(marks)} |"
