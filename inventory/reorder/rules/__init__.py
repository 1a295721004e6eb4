"""When to reorder one item, and how much: arithmetic on figures handed in.

Statistics are `float`; whatever someone orders by is a whole number of base units, rounded once.
"""

from inventory.reorder.rules.advice import (
    SERVICE_LEVEL_ABOVE,
    SERVICE_LEVEL_MAX,
    Fault,
    ReorderAdvice,
    ReorderInputs,
    advise,
    first_fault,
)
from inventory.reorder.rules.demand import DemandRule, LeadTimeSource, Spread
from inventory.reorder.rules.quantity import PriceBreak

__all__ = [
    "SERVICE_LEVEL_ABOVE",
    "SERVICE_LEVEL_MAX",
    "DemandRule",
    "Fault",
    "LeadTimeSource",
    "PriceBreak",
    "ReorderAdvice",
    "ReorderInputs",
    "Spread",
    "advise",
    "first_fault",
]
