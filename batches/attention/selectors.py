"""What needs a person now, in order of harm, for the first page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from django.conf import settings
from django.db.models import Count, Exists, Max, Q, Sum
from django.db.models.functions import Coalesce, Least

from batches.bills.models import BillRevision, RevisionState
from batches.labels.models import Printing
from batches.packing.models import Complaint
from batches.recall.selectors.cases import recalls
from batches.runs.models import Batch, BatchState, Entry
from batches.watch.selectors import open_alerts
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Disposition, Hold, Lot
from inventory.stock.selectors.lots import NEVER, usable_until
from shopfloor.days import shop_day
from shopfloor.models import User
from shopfloor.money import money_shown
from shopfloor.units import display

MOST: Final = 8
"""Lines of each group; the list it leads to has all."""
EXPIRING_DAYS: Final = 21
COMPLAINT_DAYS: Final = 14

DEFAULT_NAME: Final = "Lure shop"
DEFAULT_ZONE: Final = "UTC"
"""What `SHOP_NAME` and `SHOP_TIME_ZONE` are where nobody set them."""


class Line(NamedTuple):
    """Something to be done, one click away.

    Attributes:
        address: The page where it is done.
        name: What it is.
        says: What is the matter.
        is_late: Whether it is past its time.
    """

    address: str
    name: str
    says: str
    is_late: bool = False


class Group(NamedTuple):
    """Lines of one kind.

    Attributes:
        slug: Its name in the page.
        address: The list that has all.
        none: What is said where there is nothing.
    """

    slug: str
    title: str
    address: str
    none: str
    lines: Sequence[Line]


class Overview(NamedTuple):
    """The shop today.

    Attributes:
        lots: How many of ours hold something.
        value: What they are worth, for people.
        quarantined: How many of them wait for a test.
        harm: What may harm somebody or did, the worst first.
        work: What waits for somebody; what is to be ordered is not in it.
    """

    lots: int
    items: int
    value: str
    quarantined: int
    harm: Sequence[Group]
    work: Sequence[Group]


def overview(*, now: datetime) -> Overview:
    """The shop at a moment. Seven statements, whatever its size."""
    sums = Lot.objects.filter(on_hand_base__gt=0, owner="").aggregate(
        lots=Count("id"),
        items=Count("item", distinct=True),
        value=Sum("value_micro"),
        quarantined=Count("id", filter=Q(disposition=Disposition.QUARANTINED)),
    )
    return Overview(
        lots=sums["lots"],
        items=sums["items"],
        value=money_shown(int(sums["value"] or 0)),
        quarantined=sums["quarantined"],
        harm=list(_harm(now)),
        work=list(_work(now)),
    )


def _harm(now: datetime) -> Iterator[Group]:
    yield Group(
        "alerts",
        "More failures than before",
        "/alerts/?is_open=true",
        "No defect became more frequent.",
        _alerts(),
    )
    yield Group("recalls", "Open recalls", "/recalls/?is_open=true", "", _recalls())
    yield Group("held", "Held", "/holds/?is_open=true", "Nothing is held.", _holds())
    yield Group(
        "complaints",
        "Complaints of the last two weeks",
        "/complaints/",
        "Nobody complained in the last two weeks.",
        _complaints(now),
    )


def _work(now: datetime) -> Iterator[Group]:
    yield Group(
        "expiring",
        "To be used within three weeks",
        "/lots/?is_on_hand=true&ordering=expires_at",
        "Nothing goes out of date soon.",
        _expiring(now),
    )
    yield Group(
        "running", "Running", "/batches/?state=running", "No batch is running.", _running(now)
    )


def _alerts() -> list[Line]:
    return [
        Line(f"/alerts/{alert.code}/", f"{alert.code} {alert.defect.name}", alert.seen)
        for alert in open_alerts()[:MOST]
    ]


def _recalls() -> list[Line]:
    found = recalls().filter(closing__isnull=True).order_by("-pk")[:MOST]
    return [
        Line(f"/recalls/{case.code}/", f"{case.code} {case.get_kind_display()}", case.reason)
        for case in found
    ]


def _holds() -> list[Line]:
    found = (
        Hold.objects.filter(release__isnull=True)
        .select_related("lot__item")
        .annotate(lots=Count("held_lots"))
        .order_by("-id")[:MOST]
    )
    return [
        Line(
            f"/holds/{hold.code}/",
            f"{hold.code} {hold.lot.code} {hold.lot.item.name}",
            f"{hold.reason}; stops {hold.lots} lot{'s'[: hold.lots != 1]}",
        )
        for hold in found
    ]


def _complaints(now: datetime) -> list[Line]:
    found = (
        Complaint.objects.filter(
            told_on__gt=shop_day(now) - timedelta(days=COMPLAINT_DAYS), replaced_by__isnull=True
        )
        .select_related("defect", "customer")
        .order_by("-told_on", "-pk")[:MOST]
    )
    return [
        Line(
            f"/complaints/{each.code}/",
            f"{each.code} {each.defect.name}",
            f"{each.pieces} piece{'s'[: each.pieces != 1]}, told {each.told_on}"
            + (f", {each.customer.name}" if each.customer else ""),
        )
        for each in found
    ]


def _expiring(now: datetime) -> list[Line]:
    found = (
        Lot.objects.filter(on_hand_base__gt=0, owner="", disposition=Disposition.RELEASED)
        .annotate(ends_at=Least(Coalesce("discard_at", NEVER), Coalesce("expires_at", NEVER)))
        .filter(ends_at__lt=now + timedelta(days=EXPIRING_DAYS))
        .select_related("item")
        .order_by("ends_at", "id")[:MOST]
    )
    return [_expiring_line(lot, now) for lot in found]


def _expiring_line(lot: Lot, now: datetime) -> Line:
    ends_at = usable_until(lot)
    assert ends_at is not None, "the filter asks for one"
    is_past = ends_at < now
    until = f"was to be used by {shop_day(ends_at)}" if is_past else f"use by {shop_day(ends_at)}"
    return Line(
        f"/lots/{lot.code}/",
        f"{lot.code} {lot.item.name}",
        f"{_shown(lot.on_hand_base, lot.item)}, {until}",
        is_late=is_past,
    )


def _shown(qty_base: int, item: Item) -> str:
    return display(qty_base, item.display_unit, measure_of(item))


def _running(now: datetime) -> list[Line]:
    """Those that were left open on an earlier day first."""
    found = (
        Batch.objects.filter(state=BatchState.RUNNING)
        .select_related("item", "stage")
        .annotate(since_at=Max("events__at", filter=Q(events__after=BatchState.RUNNING)))
        .order_by("since_at", "id")[:MOST]
    )
    today = shop_day(now)
    lines = []
    for batch in found:
        since_on = shop_day(batch.since_at)
        is_late = since_on < today
        lines.append(
            Line(
                f"/batches/{batch.code}/",
                f"{batch.code} {batch.item.code} {batch.item.name}",
                f"{batch.stage.name}, {f'left open since {since_on}' if is_late else 'today'}",
                is_late=is_late,
            )
        )
    return lines


class Step(NamedTuple):
    """A step from an empty shop to the first run, and whether it is done.

    Attributes:
        is_needed: Whether the steps stay until it is done.
    """

    is_done: bool
    address: str
    name: str
    says: str
    is_needed: bool = False


def first_steps(*, person_id: int) -> list[Step]:
    """From nothing to the first recorded run and label. One statement.

    Args:
        person_id: Who asks; somebody stands in every shop, whatever else does not.
    """
    there = (
        User.objects.filter(pk=person_id)
        .values_list(
            Exists(Item.objects.all()),
            Exists(Lot.objects.all()),
            Exists(BillRevision.objects.filter(state=RevisionState.CURRENT)),
            Exists(Entry.objects.all()),
            Exists(Printing.objects.all()),
        )
        .get()
    )
    has_items, has_lots, has_bills, has_entries, has_labels = there
    is_own = settings.SHOP_NAME != DEFAULT_NAME and settings.SHOP_TIME_ZONE != DEFAULT_ZONE
    now = f"{settings.SHOP_NAME}, {settings.SHOP_TIME_ZONE}, {settings.SHOP_CURRENCY}"
    return [
        Step(
            is_own,
            "",
            "The shop's own name, time zone and currency",
            f"Now: {now}. Set SHOP_NAME, SHOP_TIME_ZONE and SHOP_CURRENCY where the program is "
            "started, and start it again, before anything is recorded.",
        ),
        Step(
            has_items,
            "/imports/new/",
            "What you buy, make and use up",
            "Bring your sheets in, or type items in one by one under Items, each in its unit.",
        ),
        Step(
            has_lots,
            "/receipts/new/",
            "What stands on the shelves",
            "Bring in what you have as opening lots, or receive the next delivery.",
        ),
        Step(
            has_bills,
            "/bills/new/",
            "The first bill of materials",
            "What one piece takes. A released bill proposes lots and amounts at the bench.",
        ),
        Step(
            has_entries,
            "/bench/",
            "The first run",
            "Choose a stage, say what was made, and scan what was taken.",
            is_needed=True,
        ),
        Step(
            has_labels,
            "/printings/new/",
            "The first label",
            "Test the printer, then print the stickers of what you have.",
        ),
    ]
