"""Sheets of what the shop is and has: people, things, bills, and the stock it begins with."""

from __future__ import annotations

from typing import Final

from batches.exchange.rules.kinds import (
    amount,
    choice,
    choice_of_numbers,
    code,
    day,
    flag,
    gtin,
    limit,
    moment,
    money,
    number,
    ref,
    share,
    text,
    unit,
    username,
    whole,
)
from batches.exchange.rules.lists import GRADES, alternatives, pictograms, price_breaks
from batches.exchange.rules.sheets import AmountColumns, Column, Sheet
from batches.quality.rules.plan_tables import AQLS, LEVELS

LIFE_DAYS_MAX: Final = 36_500
LIFE_MINUTES_MAX: Final = LIFE_DAYS_MAX * 24 * 60
PARTS_MAX: Final = 200
SMALL_MAX: Final = 10**6

_CODE: Final = Column("code", code(), "how the shop knows it", required=True)
_NAME: Final = Column("name", text(120), "what people call it", required=True)

PEOPLE: Final = Sheet(
    name="people",
    about="A person. Nobody can sign in with what stands here: an owner gives each a password, and "
    "makes other owners.",
    key=("username",),
    gives="username",
    columns=(
        Column("username", username(), "what the person signs in with", required=True),
        Column("display_name", text(80), "the name others see", required=True),
        Column(
            "role",
            choice("lead", "bench", "packer", "viewer"),
            "what the person may do",
            required=True,
        ),
    ),
)
MODELS: Final = Sheet(
    name="models",
    about="A lure as designed: its shape, whatever its colors.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column("length_mm", whole("length", 1, 10_000), "length in millimeters"),
        Column(
            "painted_area_mm2",
            whole("painted area", 1, SMALL_MAX),
            "square millimeters that paint covers",
        ),
    ),
)
COLORWAYS: Final = Sheet(
    name="colorways",
    about="How a lure is painted, whatever its shape.",
    key=("code",),
    gives="code",
    columns=(_CODE, _NAME),
)
PLACES: Final = Sheet(
    name="places",
    about="A shelf, a bench, or the premises of somebody who works for us.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column("kind", choice("shelf", "bench", "outside"), "what sort of place", required=True),
    ),
)
EQUIPMENT: Final = Sheet(
    name="equipment",
    about="A press, a mold with its cavities, a wheel with its stations, a booth. Part 3 of 12 of "
    "`W1` gets the code `W1-03`.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column(
            "kind",
            choice("press", "mold", "cavity", "wheel", "station", "booth", "other"),
            "what sort of equipment",
            required=True,
        ),
        Column(
            "parts",
            whole("number of parts", 1, PARTS_MAX),
            "cavities of a mold or stations of a wheel, all entered with it",
        ),
        Column("part_of", ref("equipment"), "for a single cavity or station: what it belongs to"),
        Column("number", whole("number", 1, SMALL_MAX), "and its number there"),
    ),
)
SUPPLIERS: Final = Sheet(
    name="suppliers",
    about="Who sells us something, or works for us.",
    key=("code",),
    gives="code",
    columns=(_CODE, _NAME, Column("contact", text(200), "how to reach them")),
)
ITEMS: Final = Sheet(
    name="items",
    about="Anything bought, made or used up. Its unit says what it is kept by: mass, volume, "
    "count or length.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column(
            "kind",
            choice(
                "resin", "colorant", "regrind", "hook", "split_ring", "eye", "hardware", "paint",
                "thinner", "adhesive", "packaging", "half", "body", "painted_body", "lure", "set",
                "other",
            ),
            "what it is to the shop",
            required=True,
        ),
        Column("unit", unit(), "the unit people see", required=True),
        Column("model", ref("models"), "of a half, body or lure"),
        Column("colorway", ref("colorways"), "of a painted body or lure"),
        Column("piece_mass_mg", number("piece mass"), "milligrams a piece, to count by weight"),
        Column(
            "density_mg_per_ul",
            number("density"),
            "grams a milliliter, to weigh what is kept by volume",
        ),
        Column(
            "shelf_life_days",
            whole("shelf life", 1, LIFE_DAYS_MAX),
            "days it keeps from receipt, where the supplier gives no day",
        ),
        Column(
            "made_life_minutes",
            whole("life", 1, LIFE_MINUTES_MAX),
            "minutes it keeps once made or mixed (pot life)",
        ),
        Column(
            "opened_life_minutes",
            whole("opened life", 1, LIFE_MINUTES_MAX),
            "minutes a container keeps once opened",
        ),
        Column("place", ref("places"), "where it is kept"),
        Column(
            "arrives",
            choice("released", "quarantined"),
            "`quarantined`: it waits for a test whenever it comes; empty: released",
        ),
        Column(
            "hazard_text",
            text(4000, lines=True),
            "from the maker's safety data sheet, word for word",
        ),
        Column("hazard_pictograms", pictograms(), "of that sheet"),
        Column("gtin", gtin(), "the article number on the package"),
    ),
)  # fmt: skip
OFFERS: Final = Sheet(
    name="offers",
    about="What a supplier offers of an item, in one size of pack.",
    key=("supplier", "item", "amount", "unit"),
    amounts=(AmountColumns("amount", "unit", "item"),),
    columns=(
        Column("supplier", ref("suppliers"), "who offers", required=True),
        Column("item", ref("items"), "what", required=True),
        Column("amount", amount(), "how much is in a pack", required=True),
        Column("unit", unit(), "the amount's unit", required=True),
        Column("supplier_item_number", text(60), "the supplier's number for it"),
        Column("packs_min", whole("number of packs", 1, SMALL_MAX), "fewest packs; empty: 1"),
        Column("lead_time_days", whole("lead time", 0, 3650), "days, as the supplier quotes them"),
        Column("preferred", flag(), "`yes` for the one offer of an item to order by"),
        Column("prices", price_breaks(), "the first one begins at the fewest packs"),
    ),
)
STAGES: Final = Sheet(
    name="stages",
    about="A step in how a lure comes to be.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column("position", whole("position", 0, SMALL_MAX), "order in the shop", required=True),
        Column("mixing", flag(), "`yes`: it makes a mixture by mass or volume, not pieces"),
        Column("place", ref("places"), "where its output waits if the item has no place"),
    ),
)
SCRAP_REASONS: Final = Sheet(
    name="scrap_reasons",
    about="Why a piece did not become a good one.",
    key=("code",),
    gives="code",
    columns=(_CODE, _NAME, Column("stage", ref("stages"), "empty: possible at every stage")),
)
CHECK_DEFINITIONS: Final = Sheet(
    name="check_definitions",
    about="What is tested of what a stage makes, how many of it and what passes; docs/checks.md.",
    key=("code",),
    gives="code",
    columns=(
        _CODE,
        _NAME,
        Column("stage", ref("stages"), "where it is tested", required=True),
        Column("item", ref("items"), "empty: everything that the stage makes"),
        Column("defect", ref("scrap_reasons"), "what a failing piece would be scrapped for"),
        Column("kind", choice("pass_fail", "flaws", "measured"), "what is found", required=True),
        Column("unit", text(12), "of a measured value"),
        Column("lower", limit("lower limit"), "the least that passes"),
        Column("upper", limit("upper limit"), "the most that passes"),
        Column("how_many", choice("plan", "fixed", "all"), "how many are tested", required=True),
        Column("level", choice(*LEVELS), "of a plan: its inspection level"),
        Column("aql", choice_of_numbers(*AQLS), "of a plan: its quality level"),
        Column("may_reduce", flag(), "of a plan: reduced inspection is allowed"),
        Column("fixed_pieces", whole("number of pieces", 1, 100_000), "if fixed: how many"),
        Column(
            "accept_pieces",
            whole("number of pieces", 0, 100_000),
            "without a plan: the most that may fail; empty: none",
        ),
    ),
)
CUSTOMERS: Final = Sheet(
    name="customers",
    about="Who buys from us.",
    key=("code",),
    gives="code",
    columns=(_CODE, _NAME, Column("address", text(300, lines=True), "where it goes")),
)
BILLS: Final = Sheet(
    name="bills",
    about="What one piece takes of one item: a row a line. The bill is released as revision 1. "
    "Of a mixture, `amount` is for so much of the mixture as `makes` and `makes_unit` say.",
    key=("item", "takes", "role"),
    gives="item",
    group="item",
    shared=("stage", "scrap_ratio"),
    amounts=(
        AmountColumns("amount", "unit", "takes", in_parts=True),
        AmountColumns("batch_amount", "batch_unit", "takes"),
        AmountColumns("makes", "makes_unit", "item", in_parts=True),
    ),
    columns=(
        Column("item", ref("items"), "what the bill makes", required=True),
        Column("stage", ref("stages"), "where it is made", required=True),
        Column("takes", ref("items"), "what the line takes, or what comes off", required=True),
        Column("role", choice("taken", "by_product"), "empty: taken"),
        Column("amount", amount(), "how much a piece takes"),
        Column("unit", unit(), "the amount's unit"),
        Column("makes", amount(), "of a mixture: how much of it comes of that amount"),
        Column("makes_unit", unit(), "and its unit"),
        Column("batch_amount", amount(), "what goes once a batch: pot loss, purge"),
        Column("batch_unit", unit(), "and its unit"),
        Column("loss_ratio", share(), "share of the material lost on the way (overspray)"),
        Column("value_ratio", share(), "share of the value that a by-product carries off"),
        Column("alternatives", alternatives(), "what may stand in, each up to a share"),
        Column("scrap_ratio", share(), "pieces lost a piece started, of the whole bill"),
    ),
)
OPENING_LOTS: Final = Sheet(
    name="opening_lots",
    about="A lot that stood on the shelf when the books begin.",
    gives="lot",
    kept_as="lots",
    key=("lot",),
    amounts=(AmountColumns("amount", "unit", "item"),),
    columns=(
        Column("at", moment(), "when it was found there", required=True),
        Column("item", ref("items"), "what it is", required=True),
        Column("amount", amount(), "how much", required=True),
        Column("unit", unit(), "the amount's unit", required=True),
        Column("value", money(), "what all of it is worth; empty: nothing"),
        Column("lot", code(), "the shop's own code; empty: one is made"),
        Column("place", ref("places"), "empty: the item's"),
        Column("supplier", ref("suppliers"), "who it came from"),
        Column("supplier_lot", text(60), "the supplier's code"),
        Column("expires_on", day(future=True), "the last day it may be used"),
        Column("grade", choice(*GRADES), "empty: first"),
        Column("disposition", choice("released", "quarantined", "rejected"), "empty: released"),
        Column("owner", text(120), "whose it is, if not ours; then it has no value"),
    ),
)
