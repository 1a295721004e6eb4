"""Asking and telling the API's doors from a page, within the page's own request.

A page shows what the API answers and sends what the API takes: one set of rules, roles and words
for both, and whatever a page can do, a program can.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any, Final
from urllib.parse import urlencode

import orjson
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, QueryDict
from django.urls import Resolver404, resolve
from django.utils.datastructures import MultiValueDict
from rest_framework.response import Response

from shopfloor.access import view_class
from shopfloor.doors.once import KEY_HEADER
from shopfloor.errors import (
    ConflictError,
    InvalidInputError,
    NotAllowedError,
    NotFoundError,
    ShopError,
)
from shopfloor.permissions import is_let_in

ROOT: Final = "/api/v1/"

_OK_BELOW: Final = 400
_FAMILY: Final = {
    kind.status: kind for kind in (ConflictError, InvalidInputError, NotAllowedError, NotFoundError)
}


def ask(request: HttpRequest, address: str, **params: object) -> Any:
    """What the API answers to GET, as a program would read it.

    Args:
        request: The page's request, of somebody signed in.
        address: Below `/api/v1/`: "lots/L-00012/".
        params: Query parameters; None and "" are left out.

    Raises:
        ShopError: the API refused; with its status, code, words and facts.
    """
    query = urlencode(
        {name: text for name, text in params.items() if text not in (None, "")}, doseq=True
    )
    return _sent(request, "GET", ROOT + address, query=query)


def tell(request: HttpRequest, address: str, body: object, *, key: str) -> Any:
    """What the API answers to POST.

    Args:
        request: The page's request; its token against forgery is checked already.
        address: Below `/api/v1/`.
        body: What is written, as JSON has it.
        key: The form's own: sent again with the same, nothing is written twice.

    Raises:
        ShopError: the API refused, and nothing was written.
    """
    return _sent(request, "POST", ROOT + address, body=orjson.dumps(body), key=key)


def tell_files(
    request: HttpRequest,
    address: str,
    said: Mapping[str, str | Sequence[str]],
    files: MultiValueDict[str, UploadedFile[Any]],
    *,
    key: str,
) -> Any:
    """The same for a door that takes files, which the page's own form sent.

    Args:
        request: The page's request.
        address: Below `/api/v1/`.
        said: What stands beside the files; a list is a field that is there several times.
        files: The files, under the names that the door has for them.
        key: The form's own.

    Raises:
        ShopError: the API refused, and nothing was written.
    """
    form = QueryDict(mutable=True)
    for name, value in said.items():
        form.setlist(name, [value] if isinstance(value, str) else list(value))
    return _sent(request, "POST", ROOT + address, key=key, form=form, files=files)


def may(request: HttpRequest, method: str, address: str) -> bool:
    """Whether who is signed in may use that address at all."""
    view = getattr(resolve(ROOT + address).func, "cls", None)
    role = getattr(request.user, "role", "")
    return is_let_in(role=role, method=method, roles=getattr(view, "roles", {}))


def has_search(address: str) -> bool:
    """Whether the list at that address takes `search`."""
    view = getattr(resolve(ROOT + address).func, "cls", None)
    return bool(getattr(view, "search_fields", ()))


def may_see(request: HttpRequest, page: str) -> bool:
    """Whether there is such a page, and who is signed in may see it."""
    try:
        view = resolve(page).func
    except Resolver404:
        return False
    role = getattr(request.user, "role", "")
    return is_let_in(role=role, method="GET", roles=getattr(view_class(view), "roles", {}))


def _sent(
    request: HttpRequest,
    method: str,
    path: str,
    *,
    query: str = "",
    body: bytes = b"",
    key: str = "",
    form: QueryDict | None = None,
    files: MultiValueDict[str, UploadedFile[Any]] | None = None,
) -> Any:
    match = resolve(path)
    inner: Any = _inner(request, method, path, query, body, key)
    if form is not None:
        # Read by the page already: nothing of the body is left, and the door takes it as it is.
        inner.META |= {"CONTENT_TYPE": "multipart/form-data; boundary=none", "CONTENT_LENGTH": "1"}
        inner.POST, inner.FILES = form, MultiValueDict() if files is None else files
        inner._post, inner._read_started = inner.POST, True
    answer = match.func(inner, *match.args, **match.kwargs)
    if isinstance(answer, Response):
        answer.render()
    said = orjson.loads(answer.content) if answer.content else None
    if answer.status_code >= _OK_BELOW:
        raise refusal(said)
    return said


def _inner(
    request: HttpRequest, method: str, path: str, query: str, body: bytes, key: str
) -> HttpRequest:
    inner: Any = HttpRequest()
    inner.method = method
    inner.path = inner.path_info = path
    inner.GET = QueryDict(query)
    inner.META = {
        **request.META,
        "REQUEST_METHOD": method,
        "PATH_INFO": path,
        "QUERY_STRING": query,
        "CONTENT_TYPE": "application/json" if body else "",
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_ACCEPT": "application/json",
    }
    inner.META.pop("HTTP_AUTHORIZATION", None)  # a page is somebody's session
    if key:
        inner.META["HTTP_" + KEY_HEADER.upper().replace("-", "_")] = key
    inner.session, inner.user = request.session, request.user
    inner._stream, inner._read_started = BytesIO(body), False
    inner._dont_enforce_csrf_checks = True  # the page's own request was checked
    return inner  # type: ignore[no-any-return]


def refusal(members: Any) -> ShopError:
    """The API's refusal, to be raised again on a page."""
    kind = _FAMILY.get(members["status"], ShopError)
    refused = kind(members["detail"], **members["facts"])
    refused.status, refused.code = members["status"], members["code"]  # type: ignore[misc]
    return refused
