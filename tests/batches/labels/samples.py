"""Papers of a made-up shop."""

from __future__ import annotations

from typing import Any

from batches.labels.rules.papers import BoxItem, BoxLabel, LotLabel, Traveler, TravelerNeed

# What the sheet says must be done: invented here, in the manner of such sheets.
HAZARD = (
    "Highly flammable liquid and vapor. Causes serious eye irritation. May cause drowsiness or"
    " dizziness. Keep away from heat, hot surfaces and sparks. Wear gloves and eye protection."
)


def box_item(number: int = 1, **given: Any) -> BoxItem:
    fields = {
        "title": "Minnow 90",
        "subtitle": "Fire tiger",
        "item": f"MINNOW-{number}",
        "pieces": 24,
        "lots": ("L-2227.1",),
        "dates": "Made 2026-03-01",
        **given,
    }
    return BoxItem(**fields)


def box(code: str = "X-2223", *items: BoxItem, **given: Any) -> BoxLabel:
    shown = items or (box_item(),)
    pieces = sum(item.pieces for item in shown)
    return BoxLabel(**{"code": code, "pieces": pieces, "items": shown, **given})


def lot(code: str = "L-2227", **given: Any) -> LotLabel:
    fields = {
        "code": code,
        "item": "HOOK-6",
        "item_name": "Treble hook",
        "dates": ("Received", "2026-03-01"),
        **given,
    }
    return LotLabel(**fields)


TRAVELER = Traveler(
    code="B-2225",
    item="BODY-90",
    item_name="Body, minnow 90",
    stage="Gluing",
    planned="500 each",
    needs=(TravelerNeed("HALF-L", "Left half", "500 each", ("L-2223", "L-2224")),),
)
LONG = "An uncommonly long name that no label of any size could hold on one line, ever, at all"
