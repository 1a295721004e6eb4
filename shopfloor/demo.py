"""The demo beside a shop of one's own: filled, looked at, left again.

It is another database in a folder of its own, and the program starts anew with the one or the
other: nothing here reads or writes a row of the shop.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from pathlib import Path
from threading import Lock, Thread, Timer
from typing import Final

from django.apps import apps
from django.conf import settings

from shopfloor import bootstrap
from shopfloor.errors import ConflictError
from shopfloor.models import RequestKey, User

OWNER_FILE: Final = "owner.json"
"""Who is the first owner of a new shop: the owner of the one that it was made from."""
ANSWER_SECONDS: Final = 0.5
"""Until the server ends, so that whoever asked is answered."""
TROUBLE_LENGTH: Final = 600


class Shop(Enum):
    """Which of the two."""

    OWN = "own"
    DEMO = "demo"


@dataclass
class Switch:
    """What this process can do.

    Attributes:
        again: Starts it anew, with the demo or with an own shop; given by `manage.py start` alone.
        filling: What fills the demo now.
        trouble: Why that broke off.
    """

    again: Callable[[Shop], None] | None = None
    filling: subprocess.Popen[str] | None = None
    trouble: str = ""


SWITCH: Final = Switch()
_BEGINNING: Final = Lock()


def why_not() -> str:
    """What stands in the way of looking at the demo from here; empty: nothing. One statement."""
    if settings.SHOP_IS_DEMO:
        return "This is the demo."
    if SWITCH.again is None or not bootstrap.has_demo_beside():
        return "It is had only where `manage.py start` serves a shop that is one file."
    if not bootstrap.DEMO.is_dir():
        return "This copy of the program has no demo: fixtures/demo is absent."
    if apps.get_model("inventory", "Item").objects.exists():
        return "Something stands in this shop. The demo is for a shop that is still empty."
    return ""


def can_leave() -> bool:
    """Whether the demo can be left from here."""
    is_first = bootstrap.has_demo_beside() and bootstrap.own_dir() == bootstrap.named_dir()
    is_had = bootstrap.is_visiting_demo() or is_first
    return bool(settings.SHOP_IS_DEMO and SWITCH.again and is_had)


def fill(*, by: User) -> None:
    """Begin to fill the demo; when it is full the program starts anew with it.

    Raises:
        ConflictError: something stands in the way.
    """
    with _BEGINNING:
        if SWITCH.filling is not None:
            return
        if reason := why_not():
            raise ConflictError(reason)
        folder = bootstrap.demo_beside()
        if folder.exists():
            if not bootstrap.may_delete_demo_beside():
                raise ConflictError(
                    f"The folder {folder} is in the way, and what is in it is no demo that broke "
                    "off. Move it elsewhere first."
                )
            shutil.rmtree(folder)
        folder.mkdir(mode=0o700)
        bootstrap.beside_marker().write_text("filling", encoding="utf-8")
        (folder / bootstrap.DEMO_MARKER).write_text("loading", encoding="utf-8")
        _write_owner(folder / OWNER_FILE, by)
        SWITCH.trouble = ""
        SWITCH.filling = subprocess.Popen(  # noqa: S603 - our own command
            [sys.executable, str(bootstrap.ROOT / "manage.py"), "fill_demo"],
            env={**os.environ, "SHOP_DATA_DIR": str(folder)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        Thread(target=_go_there, args=(SWITCH.filling,), daemon=True).start()


def _go_there(filling: subprocess.Popen[str]) -> None:
    """Go once it is full; stay if something was entered in the shop meanwhile."""
    said, _ = filling.communicate()
    if filling.returncode != 0:
        SWITCH.trouble = said.strip()[-TROUBLE_LENGTH:] or "The demo could not be filled."
    elif reason := why_not():
        SWITCH.trouble = reason
    elif SWITCH.again is not None:
        bootstrap.beside_marker().write_text("visited", encoding="utf-8")
        SWITCH.again(Shop.DEMO)
    SWITCH.filling = None


def leave(*, by: User, at: datetime) -> None:
    """Start anew with the own shop: the one from before, or an empty one with the same owner.

    A demo in which somebody worked is moved aside, any other is deleted; one that was there before
    an own shop stays where it is.

    Raises:
        ConflictError: this is not the demo, or it cannot be left from here.
    """
    if not can_leave():
        raise ConflictError(
            "Only a demo that `manage.py start` serves can be left. Start it anew with "
            "SHOP_DATA_DIR naming another folder."
        )
    assert SWITCH.again is not None
    if bootstrap.is_visiting_demo():
        said = f"kept-{at:%Y%m%d-%H%M%S}" if has_work() else "left"
        bootstrap.beside_marker().write_text(said, encoding="utf-8")
    else:
        own = bootstrap.named_dir() / bootstrap.OWN
        own.mkdir(mode=0o700, exist_ok=True)
        _write_owner(own / OWNER_FILE, by)
    Timer(ANSWER_SECONDS, SWITCH.again, args=(Shop.OWN,)).start()


def has_work() -> bool:
    """Whether anybody wrote anything since the demo was filled. Two statements."""
    return RequestKey.objects.exists() or apps.get_model("batches", "Import").objects.count() > 1


def _write_owner(file: Path, person: User) -> None:
    said = {
        "username": person.username,
        "display_name": person.display_name,
        "password": person.password,
    }
    file.unlink(missing_ok=True)
    bootstrap.write_private(file, json.dumps(said))


def take_over_owner(at: datetime, enter: Callable[..., object]) -> bool:
    """Enter the owner that a new shop begins with, if it has one from elsewhere.

    Args:
        at: Now.
        enter: `create_first_owner`.
    """
    file = bootstrap.data_dir() / OWNER_FILE
    if not file.exists():
        return False
    said = json.loads(file.read_text(encoding="utf-8"))
    enter(username=said["username"], display_name=said["display_name"], password=None, at=at)
    User.objects.filter(username=said["username"]).update(password=said["password"])
    file.unlink()
    return True
