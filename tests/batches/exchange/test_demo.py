"""The made-up shop of fixtures/demo: the same from the same seed, and one that holds together."""

from __future__ import annotations

import csv
import importlib
import subprocess
import sys
from collections import Counter
from datetime import date
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db.models import Sum

from batches.exchange.rules import SHEETS
from batches.packing.models import Box, CustomerOrder, CustomerReturn
from batches.packing.selectors import standing_complaints
from batches.quality.models import Check, CheckHold
from batches.runs.models import Batch
from batches.runs.rules import index_ok
from inventory.purchasing.models import SupplierOrder
from inventory.stock.models import Lot
from inventory.stock.selectors.lineage import upstream_ids
from shopfloor.bootstrap import DEMO, ROOT
from shopfloor.codes.gs1 import checked_gtin
from shopfloor.days import day_end, day_start
from shopfloor.models import User

BAD_LOT = "ADH-A-260611-01"
GENERATOR = ROOT / "fixtures" / "make_demo.py"


@pytest.fixture
def year(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The generator's own shop before its year, with its own book-keeping."""
    monkeypatch.syspath_prepend(str(GENERATOR.parent))
    seed = importlib.import_module("make_demo").SEED
    return importlib.import_module("scenario.year").Year(seed)


def generated(folder: Path, *options: str) -> dict[str, bytes]:
    command = [sys.executable, str(GENERATOR), "--into", str(folder), *options]
    subprocess.run(command, check=True)  # noqa: S603 - our own script
    return files_of(folder)


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*.csv"))}


def rows_of(sheet: str) -> list[dict[str, str]]:
    with (DEMO / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def pairs_of(cell: str, sign: str) -> dict[str, str]:
    """`a=1; b=2` as a dictionary."""
    return dict(part.strip().split(sign) for part in cell.split(";") if part.strip())


def test_the_same_seed_gives_the_files_that_are_here_byte_for_byte(tmp_path: Path) -> None:
    assert generated(tmp_path) == files_of(DEMO)
    assert set(files_of(DEMO)) == {sheet.file for sheet in SHEETS}


def test_another_seed_gives_another_year(tmp_path: Path) -> None:
    other = generated(tmp_path, "--seed", "another lake")
    assert other["items.csv"] == files_of(DEMO)["items.csv"]
    assert other["runs.csv"] != files_of(DEMO)["runs.csv"]


def test_everything_a_person_would_see_says_demo() -> None:
    people_and_things = ("models", "colorways", "places", "equipment", "suppliers", "items")
    named = (*people_and_things, "customers", "check_definitions")
    silent = [row["name"] for sheet in named for row in rows_of(sheet) if "DEMO" not in row["name"]]
    people = [row["display_name"] for row in rows_of("people")]
    reasons = [row["reason"] for row in rows_of("lot_events") if row["reason"]]
    reasons += [row["note"] for row in rows_of("complaints")]
    assert silent == []
    assert [words for words in people + reasons if "DEMO" not in words] == []


def test_article_numbers_have_the_demonstration_prefix_and_their_check_digit() -> None:
    numbers = [row["gtin"] for row in rows_of("items") if row["gtin"]]
    assert len(numbers) == len(set(numbers)) == 32
    assert {checked_gtin(number)[:4] for number in numbers} == {"0952"}


def test_no_wheel_turns_faster_than_the_adhesive_allows() -> None:
    stations = {row["code"]: int(row["parts"]) for row in rows_of("equipment") if row["parts"]}
    turns = {
        (row["equipment"], int(pairs_of(row["factors"], "=")["index_seconds"]))
        for row in rows_of("runs")
        if row["batch"].startswith("GL")
    }
    assert {wheel for wheel, _ in turns} == {"W1", "W2"}
    assert all(
        index_ok(index_seconds=seconds, stations=stations[wheel], clamp_seconds=300)
        for wheel, seconds in turns
    )


def part_a_of_mixtures() -> dict[str, str]:
    """The lot of part A in each pot of adhesive, by the name that a run gives the pot."""
    return {
        f"batch:{row['batch']}": row["lots"].partition(";")[0]
        for row in rows_of("runs")
        if row["item"] == "ADH-MIX"
    }


def test_one_adhesive_lot_leaks_and_was_used_on_one_wheel_in_some_weeks() -> None:
    part_a = part_a_of_mixtures()
    worked: Counter[str] = Counter()
    leaked: Counter[str] = Counter()
    used: dict[str, list[dict[str, str]]] = {}
    for row in rows_of("runs"):
        lot = part_a.get(row["lots"], "")
        good = [int(part.partition("@")[0]) for part in row["good"].split(";") if lot]
        scrap = [part.strip() for part in row["scrap"].split(";") if lot and part.strip()]
        leaks = [int(part.partition(":")[2].partition("@")[0]) for part in scrap if "LEAK" in part]
        worked[lot] += sum(good) + sum(leaks)
        leaked[lot] += sum(leaks)
        used.setdefault(lot, []).append(row)
    rates = {lot: leaked[lot] / worked[lot] for lot in worked if lot and worked[lot] > 400}
    worst, second = sorted(rates, key=lambda lot: rates[lot], reverse=True)[:2]
    assert (rates[worst] > 0.06, rates[second] < 0.03) == (True, True)
    assert {row["equipment"] for row in used[worst]} == {"W2"}
    days = [row["at"][:10] for row in used[worst]]
    assert "2026-06-10" <= min(days) < max(days) <= "2026-08-31"


def dunked() -> list[tuple[str, str, int, int]]:
    """Lot of part A, station, pieces tested and failed of every result of the leak test."""
    part_a = part_a_of_mixtures()
    glued = {(f"batch:{row['batch']}", row["at"]): row["lots"] for row in rows_of("runs")}
    found = []
    for row in rows_of("checks"):
        if row["check"] == "LEAK-DUNK":
            lot = part_a[glued[row["lot"], row["entry_at"]]]
            for station, pieces in pairs_of_results(row["results"]).items():
                failed, _, tested = pieces.partition("/")
                found.append((lot, station, int(tested), int(failed)))
    return found


def pairs_of_results(cell: str) -> dict[str, str]:
    """`0/2@W1-01; 1/1@W1-02` by station."""
    return {part.partition("@")[2]: part.partition("@")[0] for part in cell.split("; ")}


def rate(rows: list[tuple[str, str, int, int]]) -> float:
    return sum(row[3] for row in rows) / sum(row[2] for row in rows)


def test_the_leak_test_finds_the_bad_lot_and_the_worn_station() -> None:
    rows = dunked()
    bad = [row for row in rows if row[0] == BAD_LOT]
    worn = [row for row in rows if row[1] == "W1-17"]
    rest = [row for row in rows if row not in bad and row not in worn]
    assert sum(row[2] for row in bad) > 400
    assert (rate(bad) > 8 * rate(rest), rate(worn) > 8 * rate(rest)) == (True, True)


def on_hand_outside_boxes() -> dict[str, int]:
    lots = Lot.objects.exclude(place__kind="box").filter(on_hand_base__gt=0)
    return dict(lots.values_list("item__code").annotate(Sum("on_hand_base")))


def on_hand_by_its_own_books(year: Any) -> dict[str, int]:
    """What the generator says is left; seconds, firsts and what came back together."""
    expected: Counter[str] = Counter()
    for item, qty in year.stock.everything().items():
        expected[item.partition("/")[0]] += qty
    return dict(expected)


def verified() -> str:
    out = StringIO()
    call_command("verify", stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_the_first_weeks_load_as_their_own_book_keeping_says(
    owner: User, year: Any, tmp_path: Path
) -> None:
    year.run(until=date(2026, 1, 9))
    year.sheets.write(tmp_path)
    call_command("import", str(tmp_path), stdout=StringIO())
    assert on_hand_outside_boxes() == on_hand_by_its_own_books(year)
    assert "DIFFERS" not in verified()


@pytest.mark.only_on("sqlite")
@pytest.mark.django_db
def test_the_whole_year_loads_and_leaves_what_a_shop_has_to_see_to(owner: User, year: Any) -> None:
    year.run()
    call_command("import", str(DEMO), stdout=StringIO())
    assert on_hand_outside_boxes() == on_hand_by_its_own_books(year)
    assert "DIFFERS" not in verified()

    assert Batch.objects.count() > 2000
    failed = Check.objects.filter(is_passed=False)
    assert failed.count() > 15
    assert not CheckHold.objects.filter(hold__release__isnull=True).exists()
    assert {check.severity for check in Check.objects.all()} == {"", "normal", "tightened"}
    leaks = standing_complaints(first_on=date(2026, 8, 1), last_on=date(2026, 9, 30), defect="LEAK")
    bad_lot = Lot.objects.get(code=BAD_LOT)
    of_bad = [bad_lot.pk in upstream_ids(each.lot_ids) for each in leaks if each.is_narrow]
    assert sum(of_bad) > 10
    assert sum(of_bad) > len(of_bad) * 0.8
    assert set(Batch.objects.values_list("state", flat=True)) == {"complete", "running"}
    assert CustomerOrder.objects.filter(state="open").exists()
    assert SupplierOrder.objects.filter(state="open").exists()
    assert set(Box.objects.values_list("state", flat=True)) == {"open", "closed", "shipped"}
    there = Lot.objects.filter(on_hand_base__gt=0)
    assert list(there.filter(disposition="held").values_list("item__code", flat=True)) == ["HOOK-4"]
    waiting = there.filter(disposition="quarantined")
    bought = waiting.exclude(place__code="RETURNS").values_list("item__code", flat=True)
    assert set(bought) == {"ADH-A", "ADH-B"}
    assert waiting.filter(place__code="RETURNS").count() == 1
    back = CustomerReturn.objects.filter(complaint__defect__code="LEAK", posting__at__month__gte=8)
    backs = [set(each.posting.movements.values_list("lot_id", flat=True)) for each in back]
    assert sum(bad_lot.pk in upstream_ids(lots) for lots in backs) > len(backs) / 2 > 4
    assert there.filter(grade="second").exists()
    soon = (day_start(date(2026, 11, 21)), day_end(date(2026, 12, 31)))
    assert there.filter(expires_at__range=soon).exists()
