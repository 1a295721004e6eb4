"""What can stand in the way of packing, shipping, taking back and writing complaints down."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class BoxNotOpenError(ConflictError):
    """The box is closed or shipped, so nothing goes in or out."""

    code = "box_not_open"


class BoxNotClosedError(ConflictError):
    """The box is not closed, or not closed any more."""

    code = "box_not_closed"


class BoxShippedError(ConflictError):
    """The box left the shop."""

    code = "box_shipped"


class BoxEmptyError(ConflictError):
    """There is nothing in the box."""

    code = "box_empty"


class BoxInBoxError(ConflictError):
    """The box stands in another one, which has the say."""

    code = "box_in_box"


class BoxCycleError(ConflictError):
    """A box cannot stand in itself, nor in one that stands in it."""

    code = "box_cycle"


class BoxChangedError(ConflictError):
    """Somebody packed at the same moment."""

    code = "box_changed"


class LotInBoxError(ConflictError):
    """The lot is in a box already."""

    code = "lot_in_box"


class LotNotInBoxError(ConflictError):
    """The lot is not in this box."""

    code = "lot_not_in_box"


class LotElsewhereError(ConflictError):
    """What came back of the lot before stands at another place."""

    code = "lot_elsewhere"


class NotPiecesError(InvalidInputError):
    """Only what is counted in pieces is packed or ordered."""

    code = "not_pieces"


class OrderShippedError(ConflictError):
    """Something was shipped on the customer order."""

    code = "order_shipped"


class OrderOfOtherCustomerError(InvalidInputError):
    """The order is another customer's."""

    code = "order_of_other_customer"


class ShipmentReversedError(ConflictError):
    """The shipment was reversed: it never left."""

    code = "shipment_reversed"


class NotShippedError(InvalidInputError):
    """The lot did not leave with this shipment."""

    code = "not_shipped"


class ReturnTooLargeError(ConflictError):
    """More comes back than left."""

    code = "return_too_large"


class NeverShippedError(ConflictError):
    """Nothing of what is complained of has left the shop by that day."""

    code = "never_shipped"


class ComplaintTooLargeError(ConflictError):
    """Complaints of one defect would be of more pieces than left."""

    code = "complaint_too_large"


class ComplaintReplacedError(ConflictError):
    """The complaint was replaced before."""

    code = "complaint_replaced"


class WentToOthersError(InvalidInputError):
    """What is complained of did not go to this customer."""

    code = "went_to_others"


class ComplaintOfOthersError(InvalidInputError):
    """The complaint is of other lots than those that come back."""

    code = "complaint_of_others"
