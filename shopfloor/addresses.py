"""Addresses end with a slash; one written without is sent on, and nothing is lost on the way."""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpResponsePermanentRedirect
from django.middleware.common import CommonMiddleware


class SentOn(HttpResponsePermanentRedirect):
    """Moved for good, with method and body: after a plain 301 a write comes again as a read.

    A program would be answered a list, with 200, and take it for a success.
    """

    status_code = HTTPStatus.PERMANENT_REDIRECT


class AddressMiddleware(CommonMiddleware):
    """Django's own, which adds the missing slash where that makes an address of ours."""

    response_redirect_class = SentOn
