"""Every list of the house as a sheet: the rows of JSON, the same filters, and never a formula."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import zip_longest
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook
from rest_framework.test import APIClient, APIRequestFactory, force_authenticate

from batches.exchange.operations.importing import import_sheets
from inventory.stock.api.lots import LotsDoor
from inventory.stock.models import Lot
from shopfloor.doors import ListDoor
from shopfloor.doors.sheets import columns_of
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.sheets import CSV, XLSX
from tests.batches.exchange.small import CLOCK, SMALL, checked
from tests.test_lists import LISTS, NEEDED

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
API = "/api/v1/"
ADDRESSES = [address for address, _ in LISTS]


@pytest.fixture
def olga(db: None) -> User:
    create_first_owner(username="olga", display_name="=Olga()", password=None, at=NOON)
    return User.objects.get(username="olga")


@pytest.fixture
def api(olga: User) -> APIClient:
    """A shop with a row in every list, and the owner at its door."""
    import_sheets(sheets=checked(SMALL), by=olga, now=CLOCK.now, on_rows=lambda _: None)
    client = APIClient()
    client.force_authenticate(olga)

    def post(path: str, body: Mapping[str, Any]) -> None:
        answer = client.post(API + path, body, headers={"Idempotency-Key": path})
        assert answer.status_code in {200, 201}, answer.json()

    found = {"lot": "ADHB-1", "found": {"amount": "480", "unit": "g"}}
    post("counts/", {"lines": [found], "reason": "+ counted"})
    shipment = client.get(API + "shipments/").json()["results"][0]
    back = {"lot": shipment["lines"][0]["lot"], "pieces": 1}
    returned = {"shipment": shipment["code"], "place": "SHELF", "lines": [back], "reason": "leak"}
    post("customer-returns/", returned)
    post("tokens/", {"username": "olga", "name": "till"})
    return client


def body_of(answer: Any) -> bytes:
    assert answer.status_code == 200, answer.json()
    return b"".join(answer.streaming_content)


def csv_of(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(body_of(answer).decode("utf-8-sig"), newline="")))


def xlsx_of(answer: Any) -> list[dict[str, Any]]:
    sheet = load_workbook(io.BytesIO(body_of(answer)), read_only=True).worksheets[0]
    head, *rows = sheet.iter_rows(values_only=True)
    assert max(map(len, rows), default=0) <= len(head)
    return [
        dict(zip_longest(map(str, head), row)) for row in rows
    ]  # nothing at the end is left out


def flat(
    row: Mapping[str, Any], names: Collection[str], before: str = ""
) -> Iterator[tuple[str, Any]]:
    """A row of JSON as names and values, as docs/api.md says it is flattened."""
    for name, value in row.items():
        if isinstance(value, dict) and value.keys() == {"amount", "unit"}:
            yield f"{before}{name}", value["amount"]
            yield f"{before}{name}_unit", value["unit"]
        elif isinstance(value, dict) and name not in names:
            yield from flat(value, names, f"{before}{name}_")
        else:
            yield f"{before}{name}", value


def same(cell: Any, value: Any) -> bool:
    """Whether a cell of either sheet says what JSON says."""
    if value in (None, "", [], {}):
        return cell in (None, "")
    if isinstance(value, bool):
        return cell in (value, str(value).lower())
    if isinstance(value, list | dict):
        return bool(json.loads(cell) == value)
    if isinstance(cell, datetime):  # how openpyxl answers a day
        return cell == datetime.combine(date.fromisoformat(value), datetime.min.time())
    if isinstance(cell, int | float):
        return Decimal(repr(cell)) == Decimal(value)
    return cell.removeprefix("'") == str(value) or is_same_moment(cell, str(value))


def is_same_moment(cell: str, value: str) -> bool:
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        return False
    return cell == moment.astimezone(ZoneInfo("America/Chicago")).isoformat()


def differing(cells: Mapping[str, Any], row: Mapping[str, Any]) -> dict[str, Any]:
    """Cells that say something else than the row; a name on one side only is one."""
    values = dict(flat(row, cells))
    left = {name for name in cells if name not in values and cells[name] not in (None, "")}
    return {
        name: (cells.get(name), values.get(name))
        for name in left | values.keys()
        if not same(cells.get(name), values.get(name))
    }


def is_row(cells: Mapping[str, Any]) -> bool:
    """Not one of the sums that stand above and below the lines of the books."""
    return bool(cells.get("row", "movement") == "movement")


@pytest.mark.parametrize(("kind", "read"), [("csv", csv_of), ("xlsx", xlsx_of)])
def test_a_sheet_of_any_list_says_what_json_says(
    api: APIClient, kind: str, read: Callable[[Any], list[dict[str, Any]]]
) -> None:
    paged = {"page_size": "200"}
    rows = {at: api.get(at, {**NEEDED[at], **paged}).json()["results"] for at in ADDRESSES}
    sheets = {
        at: [cells for cells in read(api.get(at, {**NEEDED[at], "format": kind})) if is_row(cells)]
        for at in ADDRESSES
    }
    assert {at: len(sheet) for at, sheet in sheets.items()} == {
        at: len(listed) for at, listed in rows.items()
    }
    assert sum(len(listed) > 0 for listed in rows.values()) > 20
    told_otherwise = {
        address: wrong
        for address, listed in rows.items()
        for cells, row in zip(sheets[address], listed, strict=True)
        if (wrong := differing(cells, row))
    }
    assert told_otherwise == {}


@pytest.mark.parametrize(("address", "door"), LISTS)
def test_columns_have_names_of_their_own_and_formats_a_parameter(
    address: str, door: type[ListDoor]
) -> None:
    shape = door.gives["GET"]
    assert not isinstance(shape, tuple)
    names = [column.name for column in columns_of(shape())]
    assert len(names) == len(set(names)) > 0
    known = vars(door.filterset_class)["base_filters"] if door.filterset_class else {}
    assert "format" not in known


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_sheet_takes_no_page_and_only_a_format_there_is(olga: User, address: str) -> None:
    api = APIClient()
    api.force_authenticate(olga)
    refused = api.get(address, {"format": "csv", "page": "1"})
    assert (refused.status_code, set(refused.json()["facts"]["fields"])) == (422, {"page"})
    unknown = api.get(address, {"format": "pdf"})
    assert (unknown.status_code, set(unknown.json()["facts"]["fields"])) == (422, {"format"})
    asked = NEEDED[address]
    assert api.get(address, {**asked, "format": "json"}).json() == api.get(address, asked).json()


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("text/csv", "text/csv; charset=utf-8"),
        (XLSX.media_type, XLSX.media_type),
        ("application/json;q=0.5, text/csv", "text/csv; charset=utf-8"),
        ("text/csv;q=0.5, application/json", "application/json"),
        ("*/*", "application/json"),
        ("text/html,application/xhtml+xml,*/*;q=0.8", "application/json"),
        ("application/pdf", "application/json"),
    ],
)
def test_accept_says_the_format_and_the_parameter_is_stronger(
    api: APIClient, accept: str, kind: str
) -> None:
    answer = api.get(API + "lots/", headers={"Accept": accept})
    assert (answer["Content-Type"], answer["Vary"]) == (kind, "Accept")
    both = api.get(API + "lots/", {"format": "json"}, headers={"Accept": accept})
    assert both["Content-Type"] == "application/json"


def test_a_sheet_is_a_file_named_after_the_list_and_the_day(api: APIClient) -> None:
    answer = api.get(API + "supplier-orders/", {"format": "csv"})
    name = answer["Content-Disposition"].removeprefix('attachment; filename="supplier-orders-')
    day = date.fromisoformat(name.removesuffix('.csv"'))
    assert abs((date.today() - day).days) <= 1  # noqa: DTZ011 - the shop's day may differ by one
    body = body_of(answer)
    assert body.startswith(b"\xef\xbb\xbfcode,supplier,")
    assert int(answer["Content-Length"]) == len(body)


def test_filters_search_and_order_hold_in_a_sheet(api: APIClient) -> None:
    asked = {"item": "lure", "is_on_hand": "true", "search": "L-", "ordering": "-code"}
    rows = [row["code"] for row in api.get(API + "lots/", asked).json()["results"]]
    assert [
        row["code"] for row in csv_of(api.get(API + "lots/", {**asked, "format": "csv"}))
    ] == rows
    assert 1 < len(rows) < 5
    due = api.get(API + "reorder/", {"is_due": "true", "format": "csv"})
    assert csv_of(due) == []


def test_what_looks_like_a_formula_stays_text(api: APIClient) -> None:
    assert csv_of(api.get(API + "people/", {"format": "csv", "search": "olga"}))[0][
        "display_name"
    ] == ("'=Olga()")
    assert csv_of(api.get(API + "counts/", {"format": "csv"}))[0]["reason"] == "'+ counted"
    negative = [row["value"] for row in csv_of(api.get(API + "counts/", {"format": "csv"}))]
    assert negative == ["-0.30"]
    book = load_workbook(io.BytesIO(body_of(api.get(API + "people/", {"format": "xlsx"}))))
    kinds = {(cell.value, cell.data_type) for cell in book.worksheets[0]["B"]}
    assert ("=Olga()", "s") in kinds


def test_a_sheet_is_for_whom_the_list_is_for(api: APIClient, olga: User) -> None:
    create_person(
        username="vera", display_name="V", role=Role.VIEWER, password=None, by=olga, at=NOON
    )
    viewer = APIClient()
    assert viewer.get(API + "lots/", {"format": "csv"}).status_code == 401
    viewer.force_authenticate(User.objects.get(username="vera"))
    assert viewer.get(API + "people/", {"format": "xlsx"}).status_code == 403
    assert viewer.get(API + "lots/", {"format": "xlsx"}).status_code == 200


def test_the_description_has_the_sheets_of_every_list(api: APIClient) -> None:
    paths = api.get(API + "schema/", {"format": "json"}).json()["paths"]
    for address in ADDRESSES:
        described = paths[address]["get"]
        content = described["responses"]["200"]["content"]
        assert {"application/json", CSV.media_type, XLSX.media_type} == set(content)
        parameters = {one["name"]: one for one in described["parameters"]}
        assert parameters["format"]["schema"]["enum"] == ["json", "csv", "xlsx"]


def test_the_description_has_every_parameter_a_list_takes(olga: User) -> None:
    client = APIClient()
    client.force_authenticate(olga)
    paths = client.get(API + "schema/", {"format": "json"}).json()["paths"]
    described = {
        address: {one["name"] for one in paths[address]["get"]["parameters"]}
        for address in ADDRESSES
    }
    assert described == {
        address: set(client.get(address, {"no_such": "1"}).json()["facts"]["known"])
        for address in ADDRESSES
    }


def test_a_long_sheet_is_read_in_parts_with_as_many_statements_each(
    api: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def statements(rows_a_part: int) -> tuple[int, list[dict[str, str]]]:
        monkeypatch.setattr("shopfloor.doors.lists.CHUNK_ROWS", rows_a_part)
        with CaptureQueriesContext(connection) as seen:
            sheet = csv_of(api.get(API + "postings/", {"format": "csv"}))
        return len(seen), sheet

    at_once, whole = statements(1000)
    in_parts, pieced = statements(4)
    assert pieced == whole
    parts = -(-len(whole) // 4)
    assert in_parts - at_once == parts - 1 > 1  # the movements of each part, and nothing else


def test_what_breaks_half_way_is_answered_as_a_problem_and_never_as_half_a_sheet(
    api: APIClient, olga: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = Lot.objects.earliest("pk").pk

    class Breaking(LotsDoor):
        """Cannot show the second part."""

        def rows(self, page: Any) -> Any:
            if page[0][0] > first:
                raise NotFoundError("It went away.")
            return super().rows(page)

    monkeypatch.setattr("shopfloor.doors.lists.CHUNK_ROWS", 1)
    request = APIRequestFactory().get(API + "lots/", {"format": "csv"})
    force_authenticate(request, olga)
    answer = Breaking.as_view()(request)
    assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")
