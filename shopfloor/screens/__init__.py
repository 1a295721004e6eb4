"""What every room's `pages.py` builds its pages of: lists, things and acts, living from the API.

The page of an address of the API stands at the same address without `/api/v1`.
"""

from shopfloor.screens import typed
from shopfloor.screens.acts import ActPage, ChangePage
from shopfloor.screens.cells import Column
from shopfloor.screens.lists import ListPage
from shopfloor.screens.questions import QuestionPage
from shopfloor.screens.things import (
    FILLED,
    PAPER,
    Act,
    Button,
    Paper,
    Table,
    ThingPage,
    acts_for,
    drawn,
)
from shopfloor.screens.within import ask, has_search, may, may_see, tell, tell_files

__all__ = [
    "FILLED",
    "PAPER",
    "Act",
    "ActPage",
    "Button",
    "ChangePage",
    "Column",
    "ListPage",
    "Paper",
    "QuestionPage",
    "Table",
    "ThingPage",
    "acts_for",
    "ask",
    "drawn",
    "has_search",
    "may",
    "may_see",
    "tell",
    "tell_files",
    "typed",
]
