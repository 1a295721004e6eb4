"""EPCIS documents against the published schema and the examples of GS1.

Source: JSON schema and examples of the GS1 EPCIS repository (May 2023), in `epcis/`. Names of lots
and boxes: the examples of the EPC Tag Data Standard's forms in that repository.
"""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, get_args
from zoneinfo import ZoneInfo

import jsonschema_rs
import pytest

from batches.trace.rules.epcis import Names, document
from batches.trace.rules.happenings import (
    Amount,
    Begun,
    Boxed,
    BoxName,
    Corrected,
    Disposed,
    Happened,
    Held,
    Judged,
    Made,
    Received,
    Returned,
    Sent,
    SentBack,
    Stacked,
)
from shopfloor.codes.gs1.numbers import CompanyPrefix

FOLDER: Final = Path(__file__).parent / "epcis"
SCHEMA: Final = json.loads((FOLDER / "EPCIS-JSON-Schema.json").read_text(encoding="utf-8"))
# The schema leans on `format: uri` and `date-time`: without them it lets half of all faults pass.
VALIDATOR: Final = jsonschema_rs.Draft7Validator(SCHEMA, validate_formats=True)
EXAMPLES: Final = sorted(FOLDER.glob("*.jsonld"))

AT: Final = datetime(2026, 1, 14, 15, 30, tzinfo=UTC)
PREFIX: Final = CompanyPrefix("9521234")
NAMES: Final = Names("https://shop.example/api/v1/", PREFIX)
OWN: Final = Names("https://shop.example/api/v1/", None)
HALVES = Amount("P-77", PREFIX.gtin(98765), "count", 480)
RESIN = Amount("R-1001", "", "mass", 12_500_000)
BODIES = Amount("260114A", PREFIX.gtin(1), "count", 476)
BOX = BoxName("X-22", PREFIX.sscc(1, extension=3))
HAPPENED: Final = (
    Received(code="R-22", at=AT, supplier="NORTH", order="PO-9", lots=[HALVES]),
    Made(code="P-22", at=AT, batch="WO-42", taken=[RESIN, HALVES], made=[BODIES]),
    Made(code="P-23", at=AT, batch=None, taken=[HALVES], made=[]),
    Boxed(code="L-22", at=AT, box=BOX, lots=[BODIES]),
    Boxed(code="P-24", at=AT, box=BOX, lots=[BODIES], is_out=True),
    Sent(code="S-22", at=AT, customer="HEN", boxes=[BOX], lots=[]),
    Sent(code="S-23", at=AT, customer="HEN", boxes=[], lots=[BODIES]),
    Stacked(code="S-22", at=AT, box=BoxName("X-23", PREFIX.sscc(2)), boxes=[BOX]),
    Returned(code="P-25", at=AT, shipment="S-22", customer="HEN", lots=[BODIES]),
    Disposed(code="P-26", at=AT, lots=[RESIN]),
    Held(code="H-22", at=AT, lots=[BODIES, RESIN]),
    Held(code="H-22", at=AT, lots=[BODIES], is_over=True),
    SentBack(code="P-27", at=AT, supplier="NORTH", lots=[RESIN]),
    Corrected(code="P-28", at=AT, lots=[RESIN], is_more=True, is_counted=True),
    Corrected(code="P-28", at=AT, lots=[BODIES], is_more=False, is_counted=True),
    Corrected(code="P-29", at=AT, lots=[BODIES], is_more=False, is_counted=False),
    Begun(code="P-30", at=AT, lots=[RESIN]),
    Judged(number=1, at=AT, lot=RESIN, is_rejected=True),
    Judged(number=2, at=AT, lot=RESIN, is_rejected=False),
)


def faults(found: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(found)]


def told(names: Names = NAMES) -> Any:
    return document(HAPPENED, names=names, made_at=AT, zone=ZoneInfo("America/Chicago"))


def events(found: Any) -> Any:
    return found["epcisBody"]["eventList"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_of_gs1_are_valid(path: Path) -> None:
    assert faults(json.loads(path.read_text(encoding="utf-8"))) == []


def test_every_kind_of_event_is_among_them() -> None:
    assert {type(each) for each in HAPPENED} == set(get_args(Happened))


@pytest.mark.parametrize("names", [NAMES, OWN], ids=["gs1", "own"])
def test_every_kind_of_event_is_valid_by_the_schema(names: Names) -> None:
    assert faults(json.loads(json.dumps(told(names)))) == []
    assert {event["type"] for event in events(told(names))} == {
        "ObjectEvent",
        "TransformationEvent",
        "AggregationEvent",
    }


@pytest.mark.parametrize(
    ("place", "field", "value"),
    [
        (0, "bizStep", "quarantining"),
        (0, "eventTime", "14 Jan 2026"),
        (0, "myField", "an extension without a prefix"),
        (1, "action", "ADD"),
        (3, "persistentDisposition", {"set": ["active"]}),
    ],
)
def test_the_schema_does_refuse_what_is_wrong(place: int, field: str, value: Any) -> None:
    wrong = deepcopy(told())
    events(wrong)[place][field] = value
    assert faults(wrong) != []


def test_what_the_schema_lets_pass_is_looked_after() -> None:
    for event in events(told()):
        if event["type"] == "AggregationEvent":
            assert event["parentID"]
        if event["type"] == "TransformationEvent":
            assert event["transformationID"]
            assert event["inputQuantityList"]
    with pytest.raises(AssertionError):
        document([], names=NAMES, made_at=AT, zone=UTC)
    nothing = Sent(code="S", at=AT, customer="HEN", boxes=[], lots=[BODIES._replace(qty_base=0)])
    with pytest.raises(AssertionError):
        document([nothing], names=NAMES, made_at=AT, zone=UTC)
    ids = [event["eventID"] for event in events(told())]
    assert len(set(ids)) == len(ids)


def test_names_are_those_of_the_examples_where_the_shop_has_a_prefix() -> None:
    # GS1 EPCIS repository and the EPC Tag Data Standard: prefix, indicator and item, lot.
    assert NAMES.lot(HALVES) == "urn:epc:class:lgtin:9521234.098765.P-77"
    assert NAMES.box(BOX) == "urn:epc:id:sscc:9521234.3000000001"


def test_names_are_our_own_where_gs1_has_none() -> None:
    assert OWN.lot(HALVES) == "https://shop.example/api/v1/lots/P-77/"
    assert OWN.box(BOX) == "https://shop.example/api/v1/boxes/X-22/"
    assert NAMES.lot(RESIN) == "https://shop.example/api/v1/lots/R-1001/"
    another = HALVES._replace(gtin="00614141777778")  # of another company
    assert NAMES.lot(another) == "https://shop.example/api/v1/lots/P-77/"
    long = HALVES._replace(lot="X" * 21)  # (10) takes 20
    assert NAMES.lot(long).endswith("/lots/XXXXXXXXXXXXXXXXXXXXX/")
    assert NAMES.box(BoxName("X-22", "")) == "https://shop.example/api/v1/boxes/X-22/"
    assert NAMES.box(BoxName("X-22", CompanyPrefix("9529999").sscc(1))).startswith("https://")


def test_amounts_are_numbers_in_units_of_recommendation_20_and_exact() -> None:
    made = events(told())[1]
    assert made["inputQuantityList"] == [
        {"epcClass": NAMES.lot(RESIN), "quantity": 12.5, "uom": "KGM"},
        {"epcClass": NAMES.lot(HALVES), "quantity": 480},
    ]
    odd = [
        Amount("A", "", "mass", 999_999_999_999_999),
        Amount("B", "", "volume", 1),
        Amount("C", "", "length", 1_001),
    ]
    found = document(
        [Made(code="P", at=AT, batch=None, taken=odd, made=[])], names=OWN, made_at=AT, zone=UTC
    )
    assert '"quantity": 999999999.999999, "uom": "KGM"' in json.dumps(found)
    assert [each["uom"] for each in events(found)[0]["inputQuantityList"]] == ["KGM", "LTR", "MTR"]
    assert [each["quantity"] for each in events(found)[0]["inputQuantityList"]][1:] == [1e-6, 1.001]


def test_times_are_utc_with_the_offset_of_the_shop_then() -> None:
    first = events(told())[0]
    assert first["eventTime"] == "2026-01-14T15:30:00.000Z"
    assert first["eventTimeZoneOffset"] == "-06:00"
    ahead = document(HAPPENED, names=NAMES, made_at=AT, zone=ZoneInfo("Asia/Kolkata"))
    assert events(ahead)[0]["eventTimeZoneOffset"] == "+05:30"
