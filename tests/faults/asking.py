"""People at work: requests over HTTP with keys, sent again under the same key until answered."""

from __future__ import annotations

import json
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from itertools import count
from typing import Any, Final, NamedTuple

from tests.faults.shops import Shop

API: Final = "/api/v1/"
NO_ANSWER: Final = (OSError, HTTPException, ValueError)
PAUSE_SECONDS: Final = 0.1
CLIENT_SECONDS_MAX: Final = 60


class Said(NamedTuple):
    """An answer."""

    status: int
    body: Any
    retry_after: str | None

    @property
    def code(self) -> str:
        """The code of a problem; of a success, nothing."""
        return str(self.body.get("code", "")) if self.status >= 400 else ""


class Client:
    """One program with one connection, opened again when it broke."""

    def __init__(self, shop: Shop, port: int) -> None:
        self._token, self._port = shop.token, port
        self._connection: HTTPConnection | None = None

    def ask(self, method: str, path: str, body: object = None, *, key: str = "") -> Said:
        """One request, one answer.

        Raises:
            OSError, HTTPException: no answer came.
            ValueError: it was not JSON.
        """
        if self._connection is None:
            self._connection = HTTPConnection("127.0.0.1", self._port, timeout=CLIENT_SECONDS_MAX)
        headers = {"Authorization": f"Token {self._token}", "Content-Type": "application/json"}
        headers |= {"Idempotency-Key": key} if key else {}
        try:
            sent = None if body is None else json.dumps(body)
            self._connection.request(method, API + path, sent, headers)
            answer = self._connection.getresponse()
            read = json.loads(answer.read() or b"null")
            return Said(answer.status, read, answer.headers["Retry-After"])
        except NO_ANSWER:
            self.close()
            raise

    def close(self) -> None:
        """Hang up."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def pieces(number: int) -> dict[str, object]:
    """So many pieces, as a body says it."""
    return {"amount": str(number), "unit": "each"}


def entry(good: int = 7, scrapped: int = 1) -> dict[str, object]:
    """The body of an entry."""
    return {
        "good": [pieces(good)],
        "scrap": [{**pieces(scrapped), "scrap_reason": "LEAK"}],
        "factors": [{"name": "humidity", "value": "45"}],
    }


@dataclass
class Work:
    """What some writers were told.

    Attributes:
        told: Successes by key.
        refused: Problems by code; where it was the server's fault, it was sent again.
        broken: Requests without any answer, sent again too.
        slowest: Seconds of the slowest answer.
        stop: Set when they shall stop.
        asked: Keys of entries that were sent, answered or not.
    """

    told: dict[str, Any] = field(default_factory=dict)
    refused: Counter[str] = field(default_factory=Counter)
    broken: int = 0
    slowest: float = 0
    stop: threading.Event = field(default_factory=threading.Event)
    asked: set[str] = field(default_factory=set)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def until_told(self, client: Client, path: str, body: object, key: str) -> Any:
        """Send it, again and again under one key, until it succeeded or work stops."""
        while not self.stop.is_set():
            start = time.monotonic()
            try:
                said = client.ask("POST", path, body, key=key)
            except NO_ANSWER:
                with self.lock:
                    self.broken += 1
                time.sleep(PAUSE_SECONDS)
                continue
            with self.lock:
                self.slowest = max(self.slowest, time.monotonic() - start)
                if said.status < 300:
                    self.told[key] = said.body
                    return said.body
                self.refused[said.code] += 1
            if said.status < 500:
                return None
            time.sleep(PAUSE_SECONDS)
        return None


def at_work(shop: Shop, port: int, work: Work, writer: int) -> None:
    """Entries, and what people do to lots in between, until work stops."""
    client = Client(shop, port)
    batch = shop.batches[writer % len(shop.batches)]
    for number in count():
        if work.stop.is_set():
            break
        key = f"{writer}-{number}"
        with work.lock:
            work.asked.add(key)
        made = work.until_told(client, f"batches/{batch}/entries/", entry(), key)
        if made is None:
            break
        lot = made["made"][0]["lot"]
        if number % 3 == 0:
            work.until_told(client, f"lots/{lot}/split/", pieces(3), f"{key}-split")
            work.until_told(client, f"lots/{lot}/hold/", {"reason": "to look"}, f"{key}-hold")
        elif number % 3 == 1:
            lost = {**pieces(7), "reason": "fell"}
            work.until_told(client, f"lots/{lot}/dispose/", lost, f"{key}-dispose")
    client.close()


def write_together(shop: Shop, port: int, *, writers: int, meanwhile: Callable[[], object]) -> Work:
    """Let some write for as long as `meanwhile` takes."""
    work = Work()
    threads = [
        threading.Thread(target=at_work, args=(shop, port, work, writer))
        for writer in range(writers)
    ]
    for thread in threads:
        thread.start()
    try:
        meanwhile()
    finally:
        work.stop.set()
        for thread in threads:
            thread.join()
    return work


def disagreements(shop: Shop, work: Work) -> list[str]:
    """Where what stands differs from what was told, or from itself; in words."""
    stands = shop.inside("stock")
    found: list[str] = list(stands["differences"])
    if stands["unanswered"]:
        found.append(f"{stands['unanswered']} keys without an answer")
    answers = stands["answers"]
    lost = [key for key, body in work.told.items() if answers.get(key) != body]
    found += [f"told of {key}, and it does not stand so" for key in lost]
    by_keys = sorted(body["code"] for body in answers.values() if "batch" in body)
    if by_keys != sorted(stands["entries"]):
        found.append(f"{len(by_keys)} entries were answered, {len(stands['entries'])} stand")
    if stands["made"] != len(stands["entries"]):
        found.append(f"{stands['made']} postings made, {len(stands['entries'])} entries")
    return found
