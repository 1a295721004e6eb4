"""What is done to a shop that runs, short or long, and whether it held.

Each function does one bad thing to a furnished shop and answers an `Outcome`. The tests of this
folder run them short, `python -m tests.bench.faults` long.
"""

from __future__ import annotations

import json
import random
import socket
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from typing import Final, NamedTuple

from tests.faults.asking import (
    API,
    Client,
    Said,
    Work,
    at_work,
    disagreements,
    entry,
    write_together,
)
from tests.faults.shops import Server, Shop, free_port, served

WRITERS: Final = 8
ANSWER_SECONDS_MAX: Final = 10
"""Others must be answered within this while something bad goes on; usual is a tenth of a second."""
BIG_BODY_BYTES: Final = 50 * 1024 * 1024
CHUNK: Final = b" " * 65536


class Outcome(NamedTuple):
    """What was done to a shop, what was seen, and what was wrong with it."""

    what: str
    seen: str
    wrong: list[str]


def eight_writers(shop: Shop, *, seconds: float) -> Outcome:
    """Entries, splits, holds and disposals by eight at once, on the same lots."""
    with served(shop) as server:
        work = write_together(
            shop, server.port, writers=WRITERS, meanwhile=lambda: time.sleep(seconds)
        )
    wrong = disagreements(shop, work)
    wrong += [f"{number} answers {code}" for code, number in work.refused.items()]
    wrong += [f"{work.broken} requests without an answer"] if work.broken else []
    wrong += [] if work.told else ["nothing was written"]
    seen = f"{len(work.told)} postings, slowest {work.slowest:.1f} s"
    return Outcome(f"eight writers for {seconds:g} s", seen, wrong)


def power_cuts(shop: Shop, *, cuts: int) -> Outcome:
    """All processes of the server die at random moments; the writers ask again till answered."""
    moments = random.Random(20260302)  # noqa: S311 - moments, not secrets
    port = free_port()
    work = Work()
    threads = [
        threading.Thread(target=at_work, args=(shop, port, work, writer))
        for writer in range(WRITERS)
    ]
    for number in range(cuts):
        with served(shop, port=port) as server:
            if number == 0:
                for thread in threads:
                    thread.start()
            time.sleep(moments.uniform(0.1, 1.5))
            server.kill()
    with served(shop, port=port):
        time.sleep(1)
        work.stop.set()
        for thread in threads:
            thread.join()
    wrong = disagreements(shop, work)
    wrong += [f"{number} answers {code}" for code, number in work.refused.items()]
    wrong += [] if work.told else ["nothing was written"]
    seen = f"{len(work.told)} postings, {work.broken} requests cut off and sent again"
    return Outcome(f"{cuts} power cuts under eight writers", seen, wrong)


def one_key_from_eight(shop: Shop, *, keys: int) -> Outcome:
    """Eight send the same request under the same key at the same moment."""
    path = f"batches/{shop.batches[0]}/entries/"
    wrong: list[str] = []
    with served(shop) as server:
        clients = [Client(shop, server.port) for _ in range(WRITERS)]
        for number in range(keys):
            start = threading.Barrier(WRITERS)
            key = f"same-{number}"

            def ask(client: Client, start: threading.Barrier = start, key: str = key) -> Said:
                client.close()  # the server may have hung up on who waited long for the others
                start.wait()
                return client.ask("POST", path, entry(), key=key)

            with ThreadPoolExecutor(WRITERS) as pool:
                answers = list(pool.map(ask, clients))
            if any(said.status != 201 or said.body != answers[0].body for said in answers):
                wrong.append(f"{key}: {sorted({said.status for said in answers})}")
        entries = clients[0].ask("GET", f"entries/?batch={shop.batches[0]}").body["count"]
        for client in clients:
            client.close()
    wrong += [] if entries == keys else [f"{entries} entries stand"]
    wrong += disagreements(shop, Work())
    return Outcome(f"{keys} keys from eight clients each", f"{entries} entries", wrong)


def half_a_body(shop: Shop, *, times: int) -> Outcome:
    """Clients that hang up in the middle of what they send, or before they read the answer."""
    body = json.dumps(entry()).encode()
    path = f"batches/{shop.batches[0]}/entries/"
    with served(shop) as server:
        for number in range(times):
            with closing(_knock(server)) as line:
                line.sendall(_head(shop, path, len(body), key=f"half-{number}") + body[:-20])
            with closing(_knock(server)) as line:
                line.sendall(_head(shop, path, len(body), key=f"deaf-{number}") + body)
        client = Client(shop, server.port)
        # Who did not stay for the answer asks again: the same entry, and no second one.
        again = [
            client.ask("POST", path, entry(), key=f"deaf-{number}").status
            for number in range(times)
        ]
        entries = client.ask("GET", f"entries/?batch={shop.batches[0]}").body["count"]
        client.close()
    wrong = [] if again == [201] * times else [f"asked again: {again}"]
    wrong += [] if entries == times else [f"{entries} entries of {times} whole requests"]
    wrong += disagreements(shop, Work())
    what = f"{times} clients gone in mid-body, {times} before the answer"
    return Outcome(what, f"{entries} entries", wrong)


def slow_clients(shop: Shop, *, clients: int, seconds: float) -> Outcome:
    """Clients that send a byte now and then, and clients that do not read what they asked for."""
    with served(shop) as server:
        lines = [_knock(server) for _ in range(clients)]
        for number, line in enumerate(lines):
            if number % 2:
                line.sendall(_head(shop, "lots/?page_size=200", 0, method="GET"))
            else:
                line.sendall(_head(shop, "boxes/", 1000, key=f"slow-{number}"))
        stop = time.monotonic() + seconds

        def drip() -> None:
            while time.monotonic() < stop:
                for line in lines[::2]:
                    line.sendall(b" ")
                time.sleep(0.2)

        work = write_together(shop, server.port, writers=2, meanwhile=drip)
        for line in lines:
            line.close()
    wrong = disagreements(shop, work) + _too_slow(work)
    wrong += [] if work.told else ["nobody else was served"]
    seen = f"{len(work.told)} postings by others, slowest {work.slowest:.1f} s"
    return Outcome(f"{clients} slow clients", seen, wrong)


def a_big_body(shop: Shop) -> Outcome:
    """Fifty megabytes where a few hundred bytes are meant."""
    with served(shop) as server:
        line = _knock(server)
        line.settimeout(60)
        line.sendall(_head(shop, "boxes/", BIG_BODY_BYTES, key="big"))
        sent, start = 0, time.monotonic()
        try:
            while sent < BIG_BODY_BYTES:
                sent += line.send(CHUNK)
        except OSError:
            pass  # it did not wait for the rest
        try:
            answer = line.recv(65536).decode("latin-1")
        except OSError:
            answer = ""  # the end of the line overtook the answer
        line.close()
        took = time.monotonic() - start
        client = Client(shop, server.port)
        after = client.ask("GET", "me/").status
        client.close()
    status = answer.split(" ")[1] if answer else "closed"
    wrong = [] if status in {"413", "closed"} else [f"answered {answer[:200]!r}"]
    wrong += [] if after == 200 else [f"afterwards {after}"]
    wrong += disagreements(shop, Work())
    seen = f"{status} after {sent / 1024 / 1024:.1f} MB and {took:.1f} s"
    return Outcome("a body of 50 MB", seen, wrong)


def long_lock(
    shop: Shop, *, hold: Callable[[], Callable[[], None]], seconds: float, wait_seconds_max: float
) -> Outcome:
    """Somebody else writes for long: writers are told in time, readers read on.

    Args:
        shop: The shop.
        hold: Takes the lock; what it answers gives it back.
        seconds: How long it is held.
        wait_seconds_max: Within this a writer must be told.
    """
    path = f"batches/{shop.batches[0]}/entries/"
    reads: list[float] = []
    wrong: list[str] = []
    with served(shop) as server:
        reader = Client(shop, server.port)
        reader.ask("GET", "lots/")
        give_back = hold()
        start = time.monotonic()

        def write(number: int) -> tuple[Said, float]:
            client = Client(shop, server.port)
            said = client.ask("POST", path, entry(), key=f"wait-{number}")
            client.close()
            return said, time.monotonic() - start

        with ThreadPoolExecutor(WRITERS) as pool:
            waiting = [pool.submit(write, number) for number in range(WRITERS)]
            while time.monotonic() - start < seconds:
                before = time.monotonic()
                if reader.ask("GET", "lots/").status != 200:
                    wrong.append("a reader was refused")
                reads.append(time.monotonic() - before)
                time.sleep(0.1)
            give_back()
            answers = [future.result() for future in waiting]
        retried = [reader.ask("POST", path, entry(), key=f"wait-{n}") for n in range(WRITERS)]
        reader.close()
    for said, after in answers:
        is_told = said.status == 503 and said.code == "database_busy" and said.retry_after
        if not (said.status == 201 or is_told) or after > wait_seconds_max:
            wrong.append(f"a writer got {said.status} {said.code} after {after:.0f} s")
    wrong += [f"sent again: {said.status}" for said in retried if said.status != 201]
    wrong += [f"a read took {max(reads):.1f} s"] if max(reads) > ANSWER_SECONDS_MAX else []
    work = Work(told={f"wait-{n}": said.body for n, said in enumerate(retried)})
    wrong += disagreements(shop, work)
    told = sum(said.status == 503 for said, _ in answers)
    seen = f"{told} of {WRITERS} told to try again; {len(reads)} reads, slowest {max(reads):.2f} s"
    return Outcome(f"another writer for {seconds:g} s", seen, wrong)


def _too_slow(work: Work) -> list[str]:
    is_slow = work.slowest > ANSWER_SECONDS_MAX
    return [f"somebody waited {work.slowest:.1f} s"] if is_slow or work.broken else []


def _knock(server: Server) -> socket.socket:
    return socket.create_connection(("127.0.0.1", server.port), timeout=ANSWER_SECONDS_MAX)


def _head(shop: Shop, path: str, length: int, *, key: str = "", method: str = "POST") -> bytes:
    lines = [
        f"{method} {API}{path} HTTP/1.1",
        "Host: 127.0.0.1",
        f"Authorization: Token {shop.token}",
        "Content-Type: application/json",
        f"Content-Length: {length}",
        *([f"Idempotency-Key: {key}"] if key else []),
    ]
    return "\r\n".join([*lines, "", ""]).encode()
