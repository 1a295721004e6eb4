"""The tables of this floor's rooms, gathered for Django."""

from inventory.catalog.models import *
from inventory.purchasing.models import *
from inventory.reorder.models import *
from inventory.stock.models import *
