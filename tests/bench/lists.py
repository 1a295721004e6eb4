"""A page of a hundred lots by token, filtered and counted, beside cursor and orjson alone."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable, Iterator
from itertools import cycle
from time import perf_counter
from typing import Any

import orjson
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.db.models import Count
from django.test import RequestFactory
from django.utils import timezone

from inventory.stock.models import Lot
from shopfloor.doors import kept
from shopfloor.models import User
from shopfloor.operations import issue_token
from shopfloor.roles import Role
from shopfloor.tokens import digest_of
from tests.bench.figures import Figure

CALLS = 400
GOAL = 0.3

SIGN_IN = """
    SELECT t.id, t.last_used_on, u.id, u.username, u.role
    FROM shopfloor_token t JOIN shopfloor_user u ON u.id = t.user_id
    WHERE t.digest = %s AND t.revoked_at IS NULL AND u.is_active
      AND (t.ends_on IS NULL OR t.ends_on >= %s)
"""
COUNT = """
    SELECT COUNT(*) FROM inventory_lot l JOIN inventory_item i ON i.id = l.item_id
    WHERE i.code = %s
"""
NAMES = (
    "code", "item", "item_name", "place", "owner", "grade", "disposition", "supplier",
    "supplier_lot_code", "split_from", "born_at", "expires_at", "opened_at", "discard_at",
    "on_hand", "dimension", "unit", "value",
)  # fmt: skip
PAGE = """
    SELECT l.code, i.code, i.name, p.code, l.owner, l.grade, l.disposition, s.code,
           l.supplier_lot_code, o.code, l.born_at, l.expires_at, l.opened_at, l.discard_at,
           l.on_hand_base, i.dimension, i.display_unit, l.value_micro
    FROM inventory_lot l
    JOIN inventory_item i ON i.id = l.item_id
    JOIN inventory_place p ON p.id = l.place_id
    LEFT JOIN inventory_supplier s ON s.id = l.supplier_id
    LEFT JOIN inventory_lot o ON o.id = l.parent_id
    WHERE i.code = %s
    ORDER BY l.id LIMIT 100
"""


def rows() -> Iterator[Figure]:
    """The same three statements, and JSON of their rows."""
    token, digest, items = _token_and_items()
    item = items[0]
    ours, bare = _asking(token, item), _bare(digest, item)
    assert _codes(ours()) == _codes(bare())
    assert len(_codes(bare())) == 100
    logging.getLogger("shopfloor.request_log").setLevel(logging.WARNING)  # not into the table

    def ours_at_first() -> bytes:
        kept._kept.clear()
        return ours()

    def each_in_turn(calls: list[Callable[[], bytes]]) -> Callable[[], bytes]:
        turn = cycle(calls)
        return lambda: next(turn)()  # noqa: PLW0108 - another one at each call

    yield Figure("a list of 100 lots by token, asked again", *_beside(ours, bare), GOAL)
    yield Figure(
        f"the same of {len(items)} items in turn",
        *_beside(
            each_in_turn([_asking(token, other) for other in items]),
            each_in_turn([_bare(digest, other) for other in items]),
        ),
        GOAL,
    )
    yield Figure("the first with its filters since the start", *_beside(ours_at_first, bare), 0)


def _beside(ours: Callable[[], bytes], bare: Callable[[], bytes]) -> tuple[float, float]:
    """Seconds of a call of both, in turns; the least of many, as others work here too."""
    calls = [(_seconds(ours), _seconds(bare)) for _ in range(CALLS)]
    return min(one for one, _ in calls), min(other for _, other in calls)


def _seconds(call: Callable[[], bytes]) -> float:
    start = perf_counter()
    call()
    return perf_counter() - start


def _codes(body: bytes) -> list[str]:
    return [row["code"] for row in orjson.loads(body)["results"]]


def _asking(token: str, item: str) -> Callable[[], bytes]:
    """A call through the whole service, as a server makes it."""
    handler: Any = WSGIHandler()
    environ = RequestFactory().get("/api/v1/lots/", {"item": item, "page_size": "100"}).environ
    environ |= {"HTTP_AUTHORIZATION": f"Token {token}", "HTTP_HOST": "localhost"}

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


def _bare(digest: str, item: str) -> Callable[[], bytes]:
    """Rows as the driver has them: no unit, no zone, no page links."""

    def ask() -> bytes:
        with connection.cursor() as cursor:
            cursor.execute(SIGN_IN, [digest, timezone.localdate().isoformat()])
            assert cursor.fetchone() is not None
            cursor.execute(COUNT, [item])
            (lots,) = cursor.fetchone() or (0,)
            cursor.execute(PAGE, [item])
            found = [dict(zip(NAMES, row, strict=True)) for row in cursor.fetchall()]
        return orjson.dumps({"count": lots, "results": found})

    return ask


def _token_and_items() -> tuple[str, str, list[str]]:
    """A fresh token, its digest, and the items of more than a hundred lots, fewest first."""
    owner = User.objects.filter(role=Role.OWNER).earliest("pk")
    text = issue_token(username=owner.username, name="a bench", by=owner, at=timezone.now()).text
    many = Lot.objects.values("item__code").annotate(lots=Count("pk")).filter(lots__gt=100)
    return text, digest_of(text), [each["item__code"] for each in many.order_by("lots")]
