"""SSCCs: one a box, never given twice, and refused where GS1 gave the shop no prefix."""

from __future__ import annotations

import pytest
from biip.sscc import Sscc

from batches.packing.models import Box, BoxSscc
from batches.packing.operations import allot_ssccs, pack_box
from batches.packing.selectors import box_of_sscc, ssccs_of
from inventory.stock.models import Lot
from shopfloor.allocation import next_id
from shopfloor.codes.errors import Gs1NumberError, NoPrefixError
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.roles import Role
from tests.batches.packing.conftest import ClientOf, stamp_at
from tests.batches.packing.test_api import Caller
from tests.needs import need_threads
from tests.racing import at_once, codes


@pytest.fixture
def boxes(owner: User) -> list[Box]:
    return [pack_box(contents=[], code=code, stamp=stamp_at(owner)) for code in ("B1", "B2", "B3")]


def test_each_box_gets_one_and_keeps_it(owner: User, boxes: list[Box]) -> None:
    first = allot_ssccs(box_codes=["B2", "B1", "B2"], stamp=stamp_at(owner))
    assert [box.code for box in first] == ["B2", "B1"]
    had = ssccs_of(["B1", "B2", "B3"])
    assert had.keys() == {"B1", "B2"}
    allot_ssccs(box_codes=["B3", "B2"], stamp=stamp_at(owner))
    now = ssccs_of(["B1", "B2", "B3"])
    assert now == had | {"B3": now["B3"]}
    assert len(set(now.values())) == 3
    assert box_of_sscc(now["B3"]).code == "B3"


def test_another_library_reads_prefix_serial_and_check_digit(owner: User, boxes: list[Box]) -> None:
    allot_ssccs(box_codes=["B1"], stamp=stamp_at(owner))
    row = BoxSscc.objects.get()
    read = Sscc.parse(row.sscc)
    assert read.extension_digit == 0
    assert read.payload == f"09521234{row.pk:09d}"
    assert read.check_digit == int(row.sscc[-1])


def test_where_the_serial_is_full_the_extension_counts_on_and_then_it_ends() -> None:
    prefix = CompanyPrefix("952123456789")  # 12 digits: a serial of 4
    assert prefix.sscc_of_count(9_999)[:-1] == "09521234567899999"
    assert prefix.sscc_of_count(10_000)[:-1] == "19521234567890000"
    assert prefix.sscc_of_count(99_999)[:-1] == "99521234567899999"
    with pytest.raises(Gs1NumberError, match="no SSCC left"):
        prefix.sscc_of_count(100_000)


def test_a_number_that_an_older_prefix_gave_is_passed_over(owner: User, boxes: list[Box]) -> None:
    older = next_id(BoxSscc)
    taken = CompanyPrefix("9521234").sscc_of_count(older + 1)  # what comes next
    BoxSscc.objects.create(
        pk=older, box=boxes[2], sscc=taken, by=owner, recorded_at=boxes[2].recorded_at
    )
    allot_ssccs(box_codes=["B2", "B1"], stamp=stamp_at(owner))
    counts = BoxSscc.objects.exclude(pk=older).values_list("box__code", "pk")
    assert dict(counts) == {"B2": older + 2, "B1": older + 3}


def test_without_a_prefix_nothing_pretends_to_be_an_sscc(
    owner: User, boxes: list[Box], settings: pytest.FixtureRequest
) -> None:
    settings.SHOP_GS1_PREFIX = ""  # type: ignore[attr-defined]  # pytest-django's
    with pytest.raises(NoPrefixError, match="SHOP_GS1_PREFIX"):
        allot_ssccs(box_codes=["B1"], stamp=stamp_at(owner))
    assert not BoxSscc.objects.exists()


def test_a_box_that_there_is_not_leaves_the_others_without(owner: User, boxes: list[Box]) -> None:
    with pytest.raises(NotFoundError) as refused:
        allot_ssccs(box_codes=["B1", "NONE"], stamp=stamp_at(owner))
    assert refused.value.facts == {"boxes": ["NONE"]}
    assert not BoxSscc.objects.exists()
    with pytest.raises(NotFoundError, match="another shop"):
        box_of_sscc("095212340000000017")


def test_over_the_door(client_of: ClientOf, boxes: list[Box]) -> None:
    api = Caller(client_of(Role.PACKER))
    told = api.post("/ssccs/", {"boxes": ["b1", "B3"]}, 200)["ssccs"]
    assert [row["box"] for row in told] == ["B1", "B3"]
    assert api.get("/boxes/B1/")["sscc"] == told[0]["sscc"]
    assert api.get("/boxes/B2/")["sscc"] is None
    assert [box["code"] for box in api.get(f"/boxes/?search={told[1]['sscc']}")["results"]] == [
        "B3"
    ]
    assert "boxes" in api.post("/ssccs/", {"boxes": []}, 422)["facts"]["fields"]
    Caller(client_of(Role.VIEWER)).post("/ssccs/", {"boxes": ["B2"]}, 403)


@pytest.mark.django_db(transaction=True)
def test_of_many_who_ask_at_once_nobody_gets_anothers(lot: Lot, packer: User) -> None:
    need_threads()
    for number in range(6):
        pack_box(contents=[], code=f"R{number}", stamp=stamp_at(packer))

    def ask(*asked: str) -> object:
        return lambda: allot_ssccs(box_codes=asked, stamp=stamp_at(packer))

    asks = [ask("R0", "R1"), ask("R1", "R2"), ask("R3"), ask("R3"), ask("R5", "R4", "R0")]
    assert codes(at_once(*asks)) == ["done"] * 5  # type: ignore[arg-type]  # each is called
    every = BoxSscc.objects.values_list("sscc", flat=True)
    assert len(every) == len(set(every)) == 6
