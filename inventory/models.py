"""The tables of this floor's rooms, gathered for Django."""

from inventory.catalog.models import *  # noqa: F403
from inventory.purchasing.models import *  # noqa: F403
from inventory.reorder.models import *  # noqa: F403
from inventory.stock.models import *  # noqa: F403
