"""What every room's `pages.py` builds its pages of: lists, things and acts, living from the API.

The page of an address of the API stands at the same address without `/api/v1`.
"""

from shopfloor.screens.acts import ActPage, ChangePage
from shopfloor.screens.cells import Column
from shopfloor.screens.lists import ListPage
from shopfloor.screens.things import FILLED, Act, Paper, Table, ThingPage, drawn
from shopfloor.screens.within import ask, has_search, may, tell

__all__ = [
    "FILLED",
    "Act",
    "ActPage",
    "ChangePage",
    "Column",
    "ListPage",
    "Paper",
    "Table",
    "ThingPage",
    "ask",
    "drawn",
    "has_search",
    "may",
    "tell",
]
