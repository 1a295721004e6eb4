"""What can stand in the way of an order, a receipt or a return."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class OfferUnclearError(InvalidInputError):
    """The pack was left out, and the supplier offers none of the item, or several."""

    code = "offer_unclear"


class PriceMissingError(InvalidInputError):
    """No price was given, and nothing on record says one."""

    code = "price_missing"


class PacksBelowMinimumError(InvalidInputError):
    """Fewer packs than the supplier sells."""

    code = "packs_below_minimum"


class DateImpossibleError(InvalidInputError):
    """A day that does not go with the others."""

    code = "date_impossible"


class OrderNotOpenError(ConflictError):
    """The order, or the line of it, is closed or cancelled."""

    code = "order_not_open"


class OrderReceivedError(ConflictError):
    """Something of the order came, so it can be closed but not cancelled."""

    code = "order_received"


class WrongSupplierError(InvalidInputError):
    """The order, or the lot, is of another supplier."""

    code = "wrong_supplier"


class OrderLineError(InvalidInputError):
    """No such line in the order, one of another item, or several that it could be."""

    code = "order_line"


class ExpiryBeforeReceiptError(InvalidInputError):
    """It had expired before it came."""

    code = "expiry_before_receipt"


class ValueOfOthersError(InvalidInputError):
    """A lot of a customer has no value and answers no order of ours."""

    code = "value_of_others"


class PlaceMissingError(InvalidInputError):
    """The item has no storage place and none was given."""

    code = "place_missing"


class ArrivesQuarantinedError(InvalidInputError):
    """The item waits for a test whenever it comes; only a release after it ends that."""

    code = "arrives_quarantined"


class NotBoughtError(InvalidInputError):
    """The lot did not come from a supplier."""

    code = "not_bought"


class StandsTwiceError(InvalidInputError):
    """The same lot stands twice in one request."""

    code = "stands_twice"


class LabelEmptyError(InvalidInputError):
    """The scan holds nothing that a supplier's label says in GS1's way."""

    code = "label_empty"


class LabelItemUnknownError(InvalidInputError):
    """The label names no item of ours, and the person named none."""

    code = "label_item_unknown"


class LabelAmountMissingError(InvalidInputError):
    """Neither the label nor the person says how much came."""

    code = "label_amount_missing"


class LabelDiffersError(InvalidInputError):
    """What was typed is not what the label says; the facts say where."""

    code = "label_differs"
