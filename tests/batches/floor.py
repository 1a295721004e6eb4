"""A made-up shop for tests: its people, places, stages, items and bills, made as a shop makes them.

A small chain of resin, halves, body, painted body, lure and packed lure, in two models and two
colorways. The figures are invented.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any, Final
from uuid import uuid4

from rest_framework.test import APIClient

from batches.bills.models import BillRevision, RevisionState
from batches.bills.operations import create_bill, create_stage, release_bill
from batches.bills.selectors.amounts import PerAmount
from batches.bills.steps.lines import AlternativeDraft, LineDraft
from inventory.catalog.operations import create_colorway, create_item, create_model, create_place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.stamp import Stamp

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
"""Noon of a Monday at the shop, in US Central time."""

LATER = NOON + timedelta(days=30)

API: Final = "/api/v1/"


class Caller:
    """Asks the API as one person, with a new key for each write unless told which."""

    def __init__(self, person: User) -> None:
        self.client = APIClient()
        self.client.force_authenticate(person)

    def get(self, path: str, **query: Any) -> Any:
        """Ask for what is at `/api/v1/` and the path."""
        return self.client.get(API + path, query)

    def post(self, path: str, body: Any = None, *, key: str | None = None) -> Any:
        """Send a write."""
        headers = {"Idempotency-Key": key or uuid4().hex}
        return self.client.post(API + path, body or {}, format="json", headers=headers)


def stamp_at(by: User, at: datetime = NOON, *, reason: str = "", now: datetime = LATER) -> Stamp:
    """Who, when and why; written down a month after noon."""
    return Stamp(by=by, at=at, now=now, reason=reason)


def enter_owner() -> User:
    """The first person of an empty shop."""
    create_first_owner(username="owner", display_name="The owner", password=None, at=NOON)
    return User.objects.get(username="owner")


def enter_person(role: Role, *, by: User) -> User:
    """Somebody of a role, named after it."""
    name = str(role)
    create_person(
        username=name, display_name=f"The {name}", role=role, password=None, by=by, at=NOON
    )
    return User.objects.get(username=name)


PLACES: Final = {
    "SHELF-A": ("Shelf A", "shelf"),
    "BENCH-GLUE": ("Gluing bench", "bench"),
    "BOOTH-1": ("Paint booth 1", "bench"),
    "BENCH-RIG": ("Rigging bench", "bench"),
}

# code: name, position, whether it mixes, where its output waits
STAGES: Final = {
    "MOLDING": ("Molding", 10, False, "SHELF-A"),
    "MIXING": ("Mixing", 20, True, "BENCH-GLUE"),
    "GLUING": ("Gluing", 30, False, "BENCH-GLUE"),
    "PAINTING": ("Painting", 40, False, "BOOTH-1"),
    "RIGGING": ("Rigging", 50, False, "BENCH-RIG"),
    "BOXING": ("Boxing", 60, False, "SHELF-A"),
}

MODELS: Final = {"MINNOW-70": ("Minnow 70", 70, 5200), "MINNOW-90": ("Minnow 90", 90, 7800)}
COLORWAYS: Final = {"PERCH": "Perch", "SHAD": "Shad"}

# code: name, kind, dimension, display unit
BOUGHT: Final = {
    "RESIN": ("Resin, natural", "resin", "mass", "kg"),
    "REGRIND": ("Regrind, natural", "regrind", "mass", "kg"),
    "COLORANT": ("Colorant, white", "colorant", "mass", "g"),
    "GLUE-A": ("Adhesive, part A", "adhesive", "mass", "g"),
    "GLUE-B": ("Adhesive, part B", "adhesive", "mass", "g"),
    "HANGER": ("Hook hanger", "hardware", "count", "each"),
    "RATTLE": ("Rattle, 4 mm", "hardware", "count", "each"),
    "PAINT-BASE": ("Paint, white base", "paint", "volume", "mL"),
    "PAINT-GREEN": ("Paint, green", "paint", "volume", "mL"),
    "PAINT-BLUE": ("Paint, blue", "paint", "volume", "mL"),
    "THINNER": ("Thinner", "thinner", "volume", "mL"),
    "EYE": ("Eye, 4 mm", "eye", "count", "each"),
    "RING": ("Split ring, size 2", "split_ring", "count", "each"),
    "HOOK-6": ("Treble hook, size 6", "hook", "count", "each"),
    "BLISTER": ("Blister", "packaging", "count", "each"),
    "INSERT": ("Printed insert, two a sheet", "packaging", "count", "each"),
}

# code: name, kind, model, colorway
MADE: Final = {
    "HALF-L": ("Half, left", "half", "MINNOW-70", None),
    "HALF-R": ("Half, right", "half", "MINNOW-70", None),
    "BODY-70": ("Body, Minnow 70", "body", "MINNOW-70", None),
    "BODY-90": ("Body, Minnow 90", "body", "MINNOW-90", None),
    "PAINTED-70-PERCH": ("Painted body, Minnow 70 perch", "painted_body", "MINNOW-70", "PERCH"),
    "PAINTED-90-SHAD": ("Painted body, Minnow 90 shad", "painted_body", "MINNOW-90", "SHAD"),
    "LURE-70-PERCH": ("Minnow 70, perch", "lure", "MINNOW-70", "PERCH"),
    "PACKED-70-PERCH": ("Minnow 70, perch, packed", "lure", "MINNOW-70", "PERCH"),
}


def amount(text: str) -> Amount:
    """`amount("4.2 g")`."""
    number, unit = text.split()
    return Amount(Decimal(number), unit)


def line(item: str, per_piece: str = "", *, per_batch: str = "", **rest: Any) -> LineDraft:
    """A line: `line("ADH", "120 mg", per_batch="15 g")`."""
    return LineDraft(
        item_code=item,
        per_piece=amount(per_piece) if per_piece else None,
        per_batch=amount(per_batch) if per_batch else None,
        **rest,
    )


def share(item: str, takes: str, makes: str) -> LineDraft:
    """A line of a mixture: `share("GLUE-A", "60 g", "100 g")`."""
    return LineDraft(item_code=item, per_amount=PerAmount(amount(takes), amount(makes)))


def instead(item: str, largest_ratio: str = "1") -> AlternativeDraft:
    """An item that may stand in."""
    return AlternativeDraft(item, Decimal(largest_ratio))


RUNNERS: Final[Any] = {"role": "by_product"}
HALF: Final = (
    line("RESIN", "4.2 g", per_batch="150 g", alternatives=(instead("REGRIND", "0.2"),)),
    line("COLORANT", "42 mg"),
    line("REGRIND", "1.1 g", **RUNNERS),
)

# code: stage, scrap ratio, lines
BILLS: Final = {
    "HALF-L": ("MOLDING", "0.02", HALF),
    "HALF-R": ("MOLDING", "0.02", HALF),
    "GLUE": (
        "MIXING",
        "0",
        (share("GLUE-A", "60 g", "100 g"), share("GLUE-B", "40 g", "100 g")),
    ),
    "BODY-70": (
        "GLUING",
        "0.03",
        (
            line("HALF-L", "1 each"),
            line("HALF-R", "1 each"),
            line("GLUE", "120 mg", per_batch="15 g"),
            line("HANGER", "3 each"),
            line("RATTLE", "2 each"),
        ),
    ),
    "PAINTED-70-PERCH": (
        "PAINTING",
        "0.04",
        (
            line("BODY-70", "1 each"),
            line("PAINT-BASE", "0.35 mL", per_batch="5 mL", loss_ratio=Decimal("0.5")),
            line("PAINT-GREEN", "0.2 mL", loss_ratio=Decimal("0.6")),
            line("THINNER", "0.1 mL"),
        ),
    ),
    "LURE-70-PERCH": (
        "RIGGING",
        "0.01",
        (
            line("PAINTED-70-PERCH", "1 each"),
            line("EYE", "2 each"),
            line("RING", "2 each"),
            line("HOOK-6", "2 each"),
        ),
    ),
    "PACKED-70-PERCH": (
        "BOXING",
        "0",
        (line("LURE-70-PERCH", "1 each"), line("BLISTER", "1 each"), line("INSERT", "0.5 each")),
    ),
}


def enter_places(*, by: User) -> None:
    """The places of `PLACES`."""
    for code, (name, kind) in PLACES.items():
        create_place(code=code, fields={"name": name, "kind": kind}, by=by, at=NOON)


def enter_stages(*, by: User) -> None:
    """The stages of `STAGES`; the places stand."""
    for code, (name, position, is_mixing, place) in STAGES.items():
        create_stage(
            code=code,
            fields={
                "name": name,
                "position": position,
                "is_mixing": is_mixing,
                "place": place,
            },
            by=by,
            at=NOON,
        )


def enter_items(*, by: User) -> None:
    """Models, colorways, what is bought and what is made; the places stand."""
    for code, (name, length_mm, area_mm2) in MODELS.items():
        create_model(
            code=code,
            fields={"name": name, "length_mm": length_mm, "painted_area_mm2": area_mm2},
            by=by,
            at=NOON,
        )
    for code, name in COLORWAYS.items():
        create_colorway(code=code, fields={"name": name}, by=by, at=NOON)
    for code, (name, kind, dimension, unit) in BOUGHT.items():
        enter_item(code, name=name, kind=kind, dimension=dimension, unit=unit, by=by)
    for code, (name, kind, model, colorway) in MADE.items():
        enter_item(code, name=name, kind=kind, by=by, model=model, colorway=colorway)
    enter_item(
        "GLUE",
        name="Adhesive, mixed",
        kind="adhesive",
        dimension="mass",
        unit="g",
        by=by,
        made_life_minutes=30,
    )


def enter_item(
    code: str,
    *,
    by: User,
    name: str = "",
    kind: str = "other",
    dimension: str = "count",
    unit: str = "each",
    **rest: Any,
) -> None:
    """One more item, kept on shelf A."""
    fields: Any = {
        "name": name or code,
        "kind": kind,
        "dimension": dimension,
        "display_unit": unit,
        "storage_place": "SHELF-A",
        **rest,
    }
    create_item(code=code, fields=fields, by=by, at=NOON)


AS_DRAFT: Final[Any] = {BillRevision: {"state": RevisionState.DRAFT, "released_at": None}}
"""What a released bill is while its lines are put back: nobody writes into it afterwards."""


def draft_bill(
    item: str,
    stage: str,
    *lines: LineDraft,
    by: User,
    scrap_ratio: str = "0",
    at: datetime = NOON,
) -> None:
    """A bill with a first draft."""
    create_bill(
        item_code=item,
        stage_code=stage,
        lines=lines,
        scrap_ratio=Decimal(scrap_ratio),
        by=by,
        at=at,
    )


def release_bills(*, by: User) -> None:
    """The bills of `BILLS`, each with revision 1 released; stages and items stand."""
    for item, (stage, scrap_ratio, lines) in BILLS.items():
        draft_bill(item, stage, *lines, by=by, scrap_ratio=scrap_ratio)
        release_bill(item_code=item, number=1, by=by, at=NOON)


def take_in(item: str, qty_base: int, *, worth: str, by: User, **rest: Any) -> Lot:
    """A lot that stood on the shelf when the shop began; `worth` in the shop's currency."""
    opening = OpeningLot(
        item_code=item, qty_base=qty_base, value_micro=int(Decimal(worth) * 10**6), **rest
    )
    return take_in_opening_lots(lots=[opening], stamp=stamp_at(by)).made[0]
