"""A page with a hundred lots, for somebody signed in, beside its rows in a plain template."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable, Iterator
from time import perf_counter
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.db.models import Count
from django.template import engines
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext

from inventory.stock.models import Lot
from shopfloor.roles import Role
from tests.bench.figures import Figure
from tests.bench.lists import COUNT, NAMES, PAGE

CALLS = 100
GOAL = 0.25
"""The page takes at most four times as long."""
STATEMENTS_MAX = 12
SHOWN = ("code", "item", "item_name", "on_hand", "unit", "place", "expires_at", "value")
PLAIN = """
<table><thead><tr>{% for name in names %}<th>{{ name }}</th>{% endfor %}</tr></thead><tbody>
{% for row in rows %}<tr>
<td><a href="/lots/{{ row.code }}/">{{ row.code }}</a></td>
<td><a href="/items/{{ row.item }}/">{{ row.item }}</a> {{ row.item_name }}</td>
<td>{{ row.on_hand }} {{ row.unit }}</td><td>{{ row.disposition }}</td>
<td><a href="/places/{{ row.place }}/">{{ row.place }}</a></td>
<td>{{ row.expires_at|default_if_none:"" }}</td><td>{{ row.value }}</td>
</tr>{% endfor %}</tbody></table>
"""


def rows() -> Iterator[Figure]:
    """The same rows; ours with session, person, frame, filters, pages and ways beside it."""
    item = _item_of_many_lots()
    client = Client()
    client.force_login(get_user_model().objects.filter(role=Role.OWNER).earliest("pk"))
    logging.getLogger("shopfloor.request_log").setLevel(logging.WARNING)
    ours, bare = _asking(client, item), _bare(item)
    assert ours().count(b'<th scope="row">') == bare().count("<tr>\n") == 100
    yield Figure("a page of 100 lots", *_beside(ours, bare), GOAL)
    with CaptureQueriesContext(connection) as asked:
        ours()
    yield Figure("its statements, of at most 12", len(asked), STATEMENTS_MAX, 1, unit="")


def _beside(ours: Callable[[], object], bare: Callable[[], object]) -> tuple[float, float]:
    calls = [(_seconds(ours), _seconds(bare)) for _ in range(CALLS)]
    return min(one for one, _ in calls), min(other for _, other in calls)


def _seconds(call: Callable[[], object]) -> float:
    start = perf_counter()
    call()
    return perf_counter() - start


def _asking(client: Client, item: str) -> Callable[[], bytes]:
    """A call through the whole service, with the cookie of a session."""
    handler: Any = WSGIHandler()
    environ = RequestFactory().get("/lots/", {"item": item, "page_size": "100"}).environ
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    environ |= {"HTTP_COOKIE": f"{settings.SESSION_COOKIE_NAME}={cookie}", "HTTP_HOST": "localhost"}

    def ask() -> bytes:
        told: list[str] = []
        answer = handler(
            {**environ, "wsgi.input": io.BytesIO()}, lambda status, _: told.append(status)
        )
        body = b"".join(answer)
        answer.close()
        assert told == ["200 OK"], body
        return body

    return ask


def _bare(item: str) -> Callable[[], str]:
    """Count and rows as the driver has them, in a template that does nothing else."""
    template = engines["django"].from_string(PLAIN)

    def ask() -> str:
        with connection.cursor() as cursor:
            cursor.execute(COUNT, [item])
            cursor.fetchone()
            cursor.execute(PAGE, [item])
            found = [dict(zip(NAMES, row, strict=True)) for row in cursor.fetchall()]
        return template.render({"names": SHOWN, "rows": found})

    return ask


def _item_of_many_lots() -> str:
    many = Lot.objects.values("item__code").annotate(lots=Count("pk")).filter(lots__gt=100)
    return str(many.order_by("lots")[0]["item__code"])
