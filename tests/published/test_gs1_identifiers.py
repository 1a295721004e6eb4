"""The table of application identifiers against two others, and partner rules read one by one."""

from __future__ import annotations

import json
import re
from importlib import resources
from typing import Any

import pytest
from stdnum import gs1_128

from shopfloor.codes.gs1.identifiers import identifier_at, identifiers
from shopfloor.codes.gs1.values import _RULES

# GS1's own list of identifiers as biip carries it; an unrelated way from the dictionary we read.
SECOND: dict[str, dict[str, Any]] = {
    row["ai"]: row
    for row in json.loads(
        resources.files("biip.gs1_application_identifiers")
        .joinpath("_application_identifiers.json")
        .read_text(encoding="utf-8")
    )
}
COMPONENT = re.compile(r"(\[?)\+?(\[?)([NXYZ-])(\.\.)?([0-9]*)\]?")


def lengths_of(second_format: str) -> tuple[int, int]:
    """Least and most characters, as the second list writes them: `N3+N13[+X..17]`."""
    _, _, data = second_format.partition("+")
    low = high = 0
    for bracket, inner, kind, dots, digits in COMPONENT.findall(data):
        most = int(digits) if digits else 1
        high += most
        low += 0 if bracket or inner else 1 if dots else most
        assert kind
    return low, high


def test_there_are_the_identifiers_that_the_second_list_has_and_no_others() -> None:
    assert set(identifiers()) == set(SECOND)
    assert len(identifiers()) == 541


def test_separators_are_those_of_the_second_list() -> None:
    ours = {code: known.has_separator for code, known in identifiers().items()}
    assert ours == {code: row["separator_required"] for code, row in SECOND.items()}


def test_lengths_are_those_of_the_second_list() -> None:
    # 8043 has a notation of its own there, `[N1..N2]`; 423 and 425 take one country or up to five,
    # which the second list writes as at least one digit after the first.
    ours = {code: (known.length_min, known.length_max) for code, known in identifiers().items()}
    theirs = {code: lengths_of(row["format"]) for code, row in SECOND.items()}
    assert {code for code in ours if ours[code] != theirs[code]} == {"423", "425", "8043"}
    assert (ours["423"], ours["425"], ours["8043"]) == ((3, 15), (3, 15), (18, 20))


def test_what_has_no_separator_has_one_length() -> None:
    fixed = [known for known in identifiers().values() if not known.has_separator]
    assert len(fixed) > 300
    assert all(known.length_min == known.length_max for known in fixed)


def test_no_identifier_begins_another() -> None:
    codes = set(identifiers())
    assert not [code for code in codes for length in (2, 3) if code[:length] in codes - {code}]


@pytest.mark.parametrize("ai", ["01", "10", "17", "21", "37", "3103", "310", "7003", "8008", "91"])
def test_a_third_table_knows_the_identifier_too(ai: str) -> None:
    # python-stdnum, made of GS1's list on another day; it finds an identifier by its beginning.
    known = identifier_at(ai.ljust(4, "0"))
    assert known is not None
    assert gs1_128._gs1_aidb.info(known.code)[0][1]


# GS1 Barcode Syntax Dictionary (Apache-2.0), read line by line.
@pytest.mark.parametrize(
    ("ai", "needs", "excludes"),
    [
        ("00", "", ""),
        ("01", "", "255 37"),
        ("02", "37", "01 03"),
        ("03", "", "01 02 37 235"),
        ("10", "01|02|03|8006|8026", ""),
        ("17", "01|02|03|255|8006|8026", ""),
        ("21", "01|03|8006", "235"),
        ("22", "01", ""),
        ("241", "01|02|03|8006|8026", ""),
        ("30", "01|02", ""),
        ("3103", "01|02", "310n"),
        ("3302", "00|01", "330n"),
        ("37", "00+02|00+8026", ""),
        ("400", "", ""),
        ("403", "00", ""),
        ("420", "", "421"),
        ("90", "", ""),
    ],
)
def test_partners_are_those_of_the_dictionary(ai: str, needs: str, excludes: str) -> None:
    known = identifiers()[ai]
    ways = ["|".join("+".join(way) for way in group) for group in known.needs]
    assert (" ".join(ways), " ".join(known.excludes)) == (needs, excludes)


def test_the_qualifiers_of_a_gtin_in_a_link_come_in_this_order() -> None:
    assert identifiers()["01"].qualifiers == (("22", "10", "21"), ("235",))


def test_rules_that_are_not_checked_are_these() -> None:
    # Lists of countries, currencies and the like, and marks of keys that no shop here prints.
    rules = {
        rule for known in identifiers().values() for part in known.parts for rule in part.rules
    }
    assert rules - set(_RULES) - {"csum"} == {
        "couponcode",
        "couponposoffer",
        "csumalpha",
        "gcppos1",
        "gcppos2",
        "hasnondigit",
        "iban",
        "importeridx",
        "iso3166",
        "iso3166999",
        "iso3166alpha2",
        "iso4217",
        "iso5218",
        "latitude",
        "longitude",
        "mediatype",
        "nozeroprefix",
        "packagetype",
        "pcenc",
        "posinseqslash",
        "winding",
    }
