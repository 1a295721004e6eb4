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
from inventory.reorder.rules.defaults import (
    HOLDING_RATIO_PER_YEAR_DEFAULT,
    ORDER_COST_MICRO_DEFAULT,
    REVIEW_DAYS_DEFAULT,
    SERVICE_DEFAULT,
    SERVICE_LEVEL_DEFAULT,
)
from inventory.reorder.rules.demand import LeadTimeSource, Spread, lead_time, use_per_day
from inventory.reorder.rules.expiry import Ending, lost_base
from inventory.reorder.rules.forecast import Forecast, Method
from inventory.reorder.rules.methods import WEEKS_LEAST, forecasts, weekly
from inventory.reorder.rules.pattern import Pattern
from inventory.reorder.rules.points import DemandRule, Service
from inventory.reorder.rules.projecting import Projected, horizon, projected
from inventory.reorder.rules.quantity import Limit, PriceBreak
from inventory.reorder.rules.reasons import reasons

__all__ = [
    "HOLDING_RATIO_PER_YEAR_DEFAULT",
    "ORDER_COST_MICRO_DEFAULT",
    "REVIEW_DAYS_DEFAULT",
    "SERVICE_DEFAULT",
    "SERVICE_LEVEL_ABOVE",
    "SERVICE_LEVEL_DEFAULT",
    "SERVICE_LEVEL_MAX",
    "WEEKS_LEAST",
    "DemandRule",
    "Ending",
    "Fault",
    "Forecast",
    "LeadTimeSource",
    "Limit",
    "Method",
    "Pattern",
    "PriceBreak",
    "Projected",
    "ReorderAdvice",
    "ReorderInputs",
    "Service",
    "Spread",
    "advise",
    "first_fault",
    "forecasts",
    "horizon",
    "lead_time",
    "lost_base",
    "projected",
    "reasons",
    "use_per_day",
    "weekly",
]
