"""The tables of this floor's rooms, gathered for Django."""

from batches.bills.models import *
from batches.exchange.models import *
from batches.labels.models import *
from batches.packing.models import *
from batches.planning.models import *
from batches.quality.models import *
from batches.recall.models import *
from batches.runs.models import *
from batches.watch.models import *
