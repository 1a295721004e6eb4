"""Pages as a browser gets them: who is signed in, and what stands on them."""

from __future__ import annotations

import re
from html import unescape
from typing import Any
from uuid import uuid4

from django.test import Client

from shopfloor.models import User

STATEMENTS_MAX = 12
"""Of a page, however much it lists; who is signed in takes two of them."""


def browse(person: User) -> Client:
    """A browser in which they are signed in."""
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    client.get("/me/")  # a new session is written down with its first page
    return client


def send(client: Client, address: str, **fields: Any) -> Any:
    """A form of its own key."""
    return client.post(address, {"idempotency_key": uuid4().hex, **fields})


def text_of(answer: Any) -> str:
    """A page as it is read: without its marks."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())
