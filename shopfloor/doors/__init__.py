"""What every room's `api.py` and `pages.py` build their doors of."""

from shopfloor.doors.door import Door
from shopfloor.doors.lists import ListDoor, Pages
from shopfloor.doors.page import PageDoor
from shopfloor.doors.stamped import REASON_LENGTH_MAX, StampedDoor, WhenWhySerializer
from shopfloor.permissions import DeclaredRoles
from shopfloor.roles import ANYONE, BENCHES, LEADS, OWNERS, PACKERS, WRITERS

__all__ = [
    "ANYONE",
    "BENCHES",
    "LEADS",
    "OWNERS",
    "PACKERS",
    "REASON_LENGTH_MAX",
    "WRITERS",
    "DeclaredRoles",
    "Door",
    "ListDoor",
    "PageDoor",
    "Pages",
    "StampedDoor",
    "WhenWhySerializer",
]
