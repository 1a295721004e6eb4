"""The tables of this floor's rooms, gathered for Django."""

from batches.bills.models import *  # noqa: F403
from batches.packing.models import *  # noqa: F403
from batches.runs.models import *  # noqa: F403
