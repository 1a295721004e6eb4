"""A complaint is written down: of what, by whom, and whether that can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from django.db.models import Sum

from batches.packing.errors import (
    ComplaintReplacedError,
    ComplaintTooLargeError,
    NeverShippedError,
    WentToOthersError,
)
from batches.packing.models import Box, Complaint, Customer
from batches.packing.selectors.boxes import box_named, boxes_inside
from batches.packing.selectors.complaints import LeftRow, left_of, parts_of
from batches.packing.selectors.orders import customer_named
from batches.packing.steps.locking import lock_boxes_by_id
from batches.runs.models import ScrapReason
from inventory.catalog.selectors import item as item_named
from inventory.catalog.selectors import model as model_named
from inventory.purchasing.errors import DateImpossibleError
from inventory.stock.models import Lot
from inventory.stock.steps import lock_lots_by_id
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.stamp import Stamp

_Whole = TypeVar("_Whole", Box, Lot)


@dataclass(frozen=True, slots=True)
class ComplaintDraft:
    """A complaint as it is told; of `box_code`, `lot_code`, `item_code`, `model_code` one is given.

    Or a box and the item in it that has the defect: it is of the lot of it in the box.

    Attributes:
        defect_code: Of a scrap reason.
        pieces: How many have the defect, > 0.
        told_on: The shop's day; None for today.
        bought_first_on, bought_last_on: With an item or model: when it was bought of us.
        replaces: The complaint that was written down wrongly.
    """

    defect_code: str
    pieces: int
    told_on: date | None = None
    customer_code: str = ""
    box_code: str = ""
    lot_code: str = ""
    item_code: str = ""
    model_code: str = ""
    bought_first_on: date | None = None
    bought_last_on: date | None = None
    note: str = ""
    replaces: str = ""


def add_complaint(draft: ComplaintDraft, stamp: Stamp) -> Complaint:
    """Write a complaint down. Needs an open transaction.

    Raises:
        NotFoundError, InvalidInputError, DateImpossibleError, NeverShippedError, WentToOthersError,
            ComplaintTooLargeError, ComplaintReplacedError: see `complain`.
    """
    assert draft.pieces > 0
    draft = _of_lot_in_box(draft, told_on=draft.told_on or shop_day(stamp.now))
    _refuse_not_one(draft)
    told_on = draft.told_on or shop_day(stamp.now)
    _refuse_days(draft, told_on, today=shop_day(stamp.now))
    box = _box(draft.box_code) if draft.box_code else None
    lot = _lot(draft.lot_code) if draft.lot_code else None
    old = _lock_replaced(draft.replaces) if draft.replaces else None
    complaint = Complaint(
        defect=_defect(draft.defect_code),
        pieces=draft.pieces,
        told_on=told_on,
        customer=customer_named(draft.customer_code) if draft.customer_code else None,
        box=box,
        lot=lot,
        item=item_named(draft.item_code) if draft.item_code else None,
        model=model_named(draft.model_code) if draft.model_code else None,
        bought_first_on=draft.bought_first_on,
        bought_last_on=draft.bought_last_on,
        note=draft.note,
        by=stamp.by,
        recorded_at=stamp.now,
        replaces=old,
    )
    left = left_of([complaint])[0]
    if not left:
        raise _never_left(complaint)
    if complaint.customer is not None:
        _refuse_other_customer(complaint.customer, left)
    _refuse_too_many(complaint, left)
    complaint.save(force_insert=True)
    return complaint


def _of_lot_in_box(draft: ComplaintDraft, *, told_on: date) -> ComplaintDraft:
    """Of a box and an item: of the one lot of it that left in the box."""
    if not (draft.box_code and draft.item_code) or draft.lot_code or draft.model_code:
        return draft
    left = left_of([Complaint(box=box_named(draft.box_code), told_on=told_on)])[0]
    if not left:
        return replace(draft, item_code="")  # the box has not left, which is told of it alone
    ids = {row.lot_id for row in left if row.item == draft.item_code}
    lots = sorted(Lot.objects.filter(pk__in=ids).values_list("code", flat=True))
    if not lots:
        raise InvalidInputError(
            "None of this item left in this box. The facts have what did.",
            box=draft.box_code,
            item=draft.item_code,
            items=sorted({row.item for row in left}),
        )
    if len(lots) > 1:
        raise InvalidInputError(
            "Several lots of this item left in this box. Name one of them, or the box alone.",
            box=draft.box_code,
            item=draft.item_code,
            lots=lots,
        )
    return replace(draft, box_code="", item_code="", lot_code=lots[0])


def _refuse_not_one(draft: ComplaintDraft) -> None:
    named = [draft.box_code, draft.lot_code, draft.item_code, draft.model_code]
    if sum(map(bool, named)) != 1:
        raise InvalidInputError(
            "Name a box, a lot, an item or a model: one of the four, or a box and the item in it."
        )
    days = (draft.bought_first_on, draft.bought_last_on)
    if (draft.item_code or draft.model_code) and None in days:
        raise InvalidInputError(
            "Say between which days it was bought: bought_first_on and bought_last_on."
        )
    if (draft.box_code or draft.lot_code) and days != (None, None):
        raise InvalidInputError("A box or a lot says itself when it left. Leave out the days.")


def _refuse_days(draft: ComplaintDraft, told_on: date, *, today: date) -> None:
    if told_on > today:
        raise DateImpossibleError(
            "The complaint lies in the future. Give the day it was told.",
            told_on=told_on.isoformat(),
            today=today.isoformat(),
        )
    first_on, last_on = draft.bought_first_on, draft.bought_last_on
    if first_on is not None and last_on is not None and not first_on <= last_on <= told_on:
        raise DateImpossibleError(
            "First it is bought, then it is complained of. Put the days in order.",
            bought_first_on=first_on.isoformat(),
            bought_last_on=last_on.isoformat(),
            told_on=told_on.isoformat(),
        )


def _box(code: str) -> Box:
    """The box; the outermost it stands in is locked, so that complaints of both take turns."""
    box = box_named(code)
    lock_boxes_by_id([_wholes(box)[-1].pk])
    return box


def _lot(code: str) -> Lot:
    """The lot; what it was split off first is locked, so that complaints of parts take turns."""
    lot = Lot.objects.filter(code=code).first()
    if lot is None:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lot=code)
    lock_lots_by_id([_wholes(lot)[-1].pk])
    return lot


def _wholes(part: _Whole) -> list[_Whole]:
    """A box or lot, and what it is a part of, the outermost last. A statement a step."""
    found = [part]
    while found[-1].parent is not None:
        found.append(found[-1].parent)
    return found


def _lock_replaced(code: str) -> Complaint:
    number = decode(code, Prefix.COMPLAINT)[1]
    old = Complaint.objects.select_for_update(no_key=True).filter(pk=number).first()
    if old is None:
        raise NotFoundError("No complaint has this code. Look at the list.", replaces=code)
    newer = Complaint.objects.filter(replaces=old).first()
    if newer is not None:
        raise ComplaintReplacedError(
            "That complaint was replaced before. Replace the one that stands.",
            replaces=old.code,
            replaced_by=newer.code,
        )
    return old


def _defect(code: str) -> ScrapReason:
    reason = ScrapReason.objects.filter(code=code).first()
    if reason is None:
        raise NotFoundError("No scrap reason has this code. Look at the list.", defect=code)
    return reason


def _never_left(complaint: Complaint) -> NeverShippedError:
    told_on = complaint.told_on.isoformat()
    if complaint.box is not None:
        return _box_here(complaint.box, told_on)
    if complaint.lot is not None:
        return _lot_here(complaint.lot, told_on)
    named = complaint.item or complaint.model
    assert named is not None
    assert complaint.bought_first_on is not None
    assert complaint.bought_last_on is not None
    return NeverShippedError(
        f"Nothing of {named.code} left us in those days. Give the days in which it may have left.",
        bought_first_on=complaint.bought_first_on.isoformat(),
        bought_last_on=complaint.bought_last_on.isoformat(),
    )


def _box_here(box: Box, told_on: str) -> NeverShippedError:
    where = "" if box.parent is None else f" in box {box.parent.code}"
    return NeverShippedError(
        f"This box had not left by {told_on}; it is {box.state}{where}. Scan the label again.",
        box=box.code,
        told_on=told_on,
        state=box.state,
        parent=None if box.parent is None else box.parent.code,
    )


def _lot_here(lot: Lot, told_on: str) -> NeverShippedError:
    here = Lot.objects.filter(pk__in=parts_of([lot.pk])[lot.pk], on_hand_base__gt=0)
    places = [
        {"lot": each.code, "place": each.place.code}
        for each in here.select_related("place").order_by("pk")
    ]
    where = (
        f"it is here, at {', '.join(sorted({each['place'] for each in places}))}"
        if places
        else "it went into other lots: name the one that left"
    )
    return NeverShippedError(
        f"Nothing of this lot had left by {told_on}; {where}.",
        lot=lot.code,
        told_on=told_on,
        here=places,
    )


def _refuse_other_customer(customer: Customer, left: Sequence[LeftRow]) -> None:
    went_to = {line.customer_id for line in left}
    if customer.pk not in went_to:
        names = Customer.objects.filter(pk__in=went_to).order_by("code")
        raise WentToOthersError(
            "This did not go to that customer. Scan the label again, or leave the customer out.",
            customer=customer.code,
            went_to=list(names.values_list("code", flat=True)),
        )


def _refuse_too_many(complaint: Complaint, left: Sequence[LeftRow]) -> None:
    """With the other complaints of the same defect of the box or lot, and of what it is part of."""
    if complaint.box is not None:
        for box in _wholes(complaint.box):
            inside = boxes_inside([box.pk])[box.pk]
            _refuse_more(complaint, Complaint(box=box, told_on=complaint.told_on), box=inside)
    elif complaint.lot is not None:
        for lot in _wholes(complaint.lot):
            inside = parts_of([lot.pk])[lot.pk]
            _refuse_more(complaint, Complaint(lot=lot, told_on=complaint.told_on), lot=inside)
    else:
        _refuse_above(complaint, left, before=0)


def _refuse_more(complaint: Complaint, of_whole: Complaint, **inside: set[int]) -> None:
    others = Complaint.objects.filter(
        **{f"{name}__in": ids for name, ids in inside.items()},
        defect=complaint.defect,
        replaced_by__isnull=True,
    )
    if complaint.replaces_id is not None:
        others = others.exclude(pk=complaint.replaces_id)
    before = others.aggregate(pieces=Sum("pieces"))["pieces"] or 0
    _refuse_above(complaint, left_of([of_whole])[0], before=before)


def _refuse_above(complaint: Complaint, left: Sequence[LeftRow], *, before: int) -> None:
    pieces = sum(line.pieces for line in left)
    if before + complaint.pieces > pieces:
        raise ComplaintTooLargeError(
            "No more pieces can have this defect than left. Correct the number, or replace an "
            "earlier complaint.",
            left=pieces,
            complained_before=before,
            wanted=complaint.pieces,
        )
