"""What can be wrong with an item, a place, equipment, a supplier or an offer."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class DuplicateCodeError(ConflictError):
    """The code is taken."""

    code = "duplicate_code"


class DuplicateGtinError(ConflictError):
    """Another item has this GTIN."""

    code = "duplicate_gtin"


class GtinNotOursError(ConflictError):
    """A number is wanted for a carton of an item that has no GTIN of the shop's own prefix."""

    code = "gtin_not_ours"


class DuplicateOfferError(ConflictError):
    """The supplier offers this pack of this item already, or somebody wrote the same just now."""

    code = "duplicate_offer"


class DimensionFixedError(ConflictError):
    """Amounts of the item are on record, so what it is measured by stays."""

    code = "dimension_fixed"


class NotActiveError(ConflictError):
    """The thing named is out of use."""

    code = "not_active"


class HazardCodeError(InvalidInputError):
    """Not the code of a GHS pictogram."""

    code = "hazard_code_unknown"


class PriceBreaksError(InvalidInputError):
    """Price breaks that leave a number of packs without a price, or with two."""

    code = "price_breaks"


class EquipmentPartError(InvalidInputError):
    """A part without what it is a part of, or something else with one."""

    code = "equipment_part"


class AmountNotPositiveError(InvalidInputError):
    """Zero, or so little that it is less than half a base unit."""

    code = "amount_not_positive"
