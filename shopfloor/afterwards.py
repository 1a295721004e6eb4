"""Work that follows on what was recorded, once it stands: nobody waits for it, and it fails alone.

One thread a process does it, begins with the first and ends with the last. What a process that ends
leaves undone is done with the next of its kind; so work looks at what stands, and not only at what
it was told.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from threading import Lock, Thread
from typing import Final

from django.conf import settings
from django.db import connections, transaction

Work = Callable[[set[int]], None]
"""Takes the numbers of what was recorded."""

CHECKED: Final = "a check"
"""By the number of its definition."""
COMPLAINED: Final = "a complaint"
"""By the number of its defect."""

log = logging.getLogger(__name__)

_work: Final[dict[str, Work]] = {}
_waiting: dict[str, set[int]] = {}
_lock: Final = Lock()
_thread: Thread | None = None


def follow(topic: str, work: Work) -> None:
    """Have work done after what is told of a topic."""
    _work[topic] = work


def tell(topic: str, number: int) -> None:
    """Say, within a transaction, what is recorded; its work begins once that stands."""
    transaction.on_commit(lambda: _hand_over(topic, number), robust=True)


def finish(*, timeout_seconds: float) -> None:
    """Wait until all work that waits is done."""
    with _lock:
        thread = _thread
    if thread is not None:
        thread.join(timeout_seconds)


def _hand_over(topic: str, number: int) -> None:
    global _thread  # noqa: PLW0603 - one a process
    if settings.SHOP_WATCH_BY_HAND or topic not in _work:
        return
    with _lock:
        _waiting.setdefault(topic, set()).add(number)
        if _thread is None:
            _thread = Thread(target=_do_all, name="afterwards", daemon=True)
            _thread.start()


def _do_all() -> None:
    global _thread  # noqa: PLW0603 - one a process
    while True:
        with _lock:
            if not _waiting:
                _thread = None
                return
            topic, numbers = _waiting.popitem()
        try:
            _work[topic](numbers)
        except Exception:
            log.exception("What follows on %s failed; nothing recorded is harmed.", topic)
        finally:
            connections.close_all()
