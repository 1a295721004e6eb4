"""What every room's `api.py` and `pages.py` build their doors of."""

from shopfloor.doors.door import Door
from shopfloor.doors.lists import ListDoor, Pages
from shopfloor.doors.page import PageDoor
from shopfloor.permissions import DeclaredRoles
from shopfloor.roles import ANYONE, BENCHES, LEADS, OWNERS, PACKERS, WRITERS

__all__ = [
    "ANYONE",
    "BENCHES",
    "LEADS",
    "OWNERS",
    "PACKERS",
    "WRITERS",
    "DeclaredRoles",
    "Door",
    "ListDoor",
    "PageDoor",
    "Pages",
]
