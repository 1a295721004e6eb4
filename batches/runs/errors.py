"""What can stand in the way of a batch or of an entry."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError, NotAllowedError


class WrongBatchStateError(ConflictError):
    """The batch is not in a state that allows this."""

    code = "wrong_batch_state"


class LotNotInBillError(ConflictError):
    """A lot is of an item that the bill does not ask for."""

    code = "lot_not_in_bill"


class LotNotOursError(ConflictError):
    """The lot belongs to somebody else: it is not made into anything, nor sold."""

    code = "lot_not_ours"


class MaterialShortError(ConflictError):
    """The released lots do not cover what the entry takes."""

    code = "material_short"


class ShareExceededError(ConflictError):
    """An alternative goes beyond the largest share the bill allows it (regrind)."""

    code = "share_exceeded"


class ScannedNotTakenError(ConflictError):
    """A lot was scanned, and by the books nothing is taken of it."""

    code = "scanned_not_taken"


class AmountsMissingError(InvalidInputError):
    """Without a bill, every lot needs the amount that was taken of it."""

    code = "amounts_missing"


class NothingRecordedError(InvalidInputError):
    """An entry of no good and no scrapped pieces records nothing."""

    code = "nothing_recorded"


class NamedTwiceError(InvalidInputError):
    """Something stands twice in one request."""

    code = "named_twice"


class ScrapReasonElsewhereError(InvalidInputError):
    """The scrap reason belongs to another stage."""

    code = "scrap_reason_elsewhere"


class NotAByProductError(InvalidInputError):
    """The bill has no such by-product."""

    code = "not_a_by_product"


class OutputHasNoPlaceError(ConflictError):
    """Neither the item nor the stage says where the output goes."""

    code = "output_has_no_place"


class OverrideNotAllowedError(NotAllowedError):
    """Only a lead or the owner may use an expired lot, with a reason."""

    code = "override_not_allowed"


class RevisionNotCurrentError(ConflictError):
    """A batch is made to the current revision of a bill only."""

    code = "revision_not_current"


class NewerEntryError(ConflictError):
    """Entries of a batch are reversed newest first."""

    code = "newer_entry"
