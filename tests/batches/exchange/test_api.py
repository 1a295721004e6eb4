"""The doors of imports: a look, the posting, once a key, the record, headings, empty sheets."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook
from rest_framework.test import APIClient

from batches.exchange.api import imports as door
from batches.exchange.models import Import, SheetHeading
from batches.exchange.rules import SHEETS
from batches.exchange.rules.headings import explanation
from batches.exchange.rules.reading import read_files
from batches.exchange.rules.templates import csv_template, xlsx_template
from batches.runs.models import Batch
from inventory.catalog.models import Colorway, Item
from shopfloor.models import User
from tests.batches.exchange.small import CLOCK, SMALL, bytes_of, changed
from tests.batches.exchange.workbooks import workbook

pytestmark = pytest.mark.django_db

IMPORTS = "/api/v1/imports/"
COLORS = {"colorways.csv": "code;name\nGRN;Grün\n".encode("cp1252")}


@pytest.fixture
def api(lead: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(lead)
    return client


def send(api: APIClient, files: Mapping[str, bytes], key: str = "one", **said: Any) -> Any:
    uploads = [SimpleUploadedFile(name, data) for name, data in files.items()]
    body = {"files": uploads, **said}
    return api.post(IMPORTS, body, format="multipart", headers={"Idempotency-Key": key})


def post(api: APIClient, path: str, body: Any, key: str = "one") -> Any:
    return api.post(IMPORTS + path, body, format="json", headers={"Idempotency-Key": key})


def fields(answer: Any) -> dict[str, list[str]]:
    """The messages by field."""
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    found: dict[str, list[str]] = answer.json()["facts"]["fields"]
    return found


def test_sheets_are_imported_and_the_answer_says_how_each_was_read(api: APIClient) -> None:
    answer = send(api, COLORS)
    kept = answer.json()
    assert (answer.status_code, kept["by"], kept["rows"]) == (201, "lead", 1)
    assert kept["sheets"] == [
        {
            "sheet": "colorways",
            "file": "colorways.csv",
            "size_bytes": 19,
            "sha256": kept["sheets"][0]["sha256"],
            "rows": 1,
            "how": "Windows-1252 (“Grün”), parted by semicolons",
        }
    ]
    assert Colorway.objects.get().name == "Grün"
    assert api.get(f"{IMPORTS}{kept['number']}/").json() == kept
    assert api.get(IMPORTS).json()["results"] == [kept]


def test_a_whole_small_shop_is_imported_by_its_door(api: APIClient) -> None:
    answer = send(api, bytes_of(SMALL))
    assert (answer.status_code, answer.json()["rows"]) == (201, 58)
    assert Batch.objects.count() == 4


def test_a_whole_small_shop_is_imported_as_one_workbook(api: APIClient) -> None:
    tabs = {
        name.removesuffix(".csv"): [list(row) for row in csv.reader(StringIO(text))]
        for name, text in SMALL.items()
    }
    answer = send(api, {"shop.xlsx": workbook(tabs)})
    assert (answer.status_code, answer.json()["rows"]) == (201, 58)
    assert {sheet["how"] for sheet in answer.json()["sheets"]} <= {
        "a workbook",
        "a workbook, a decimal point",
    }
    assert Batch.objects.count() == 4


def test_a_look_writes_nothing_and_takes_no_key(api: APIClient) -> None:
    looked = send(api, COLORS, check="true")
    assert (looked.status_code, looked.json()["number"]) == (200, None)
    assert (Colorway.objects.count(), Import.objects.count()) == (0, 0)
    done = send(api, COLORS)
    assert done.status_code == 201
    assert looked.json()["sheets"] == done.json()["sheets"]


def test_the_same_request_again_gets_the_first_answer(api: APIClient) -> None:
    first, second = send(api, COLORS), send(api, COLORS)
    assert (second.status_code, second.json()) == (201, first.json())
    assert Import.objects.count() == 1


def test_the_same_file_under_another_key_was_imported_already(api: APIClient) -> None:
    send(api, COLORS)
    answer = send(api, COLORS, key="two")
    assert answer.status_code == 422
    (problem,) = answer.json()["facts"]["problems"]
    assert "This file was imported on" in problem["advice"]
    assert "by lead" in problem["advice"]


def test_a_write_without_a_key_is_refused(api: APIClient) -> None:
    uploads = [SimpleUploadedFile(name, data) for name, data in COLORS.items()]
    answer = api.post(IMPORTS, {"files": uploads}, format="multipart")
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_missing")
    assert Colorway.objects.count() == 0


def test_problems_come_as_rows_that_a_program_can_show(api: APIClient) -> None:
    answer = send(api, bytes_of(changed("runs.csv", "20; second:3", "20; worst:3")))
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == "import_refused"
    assert answer.json()["facts"] == {
        "count": 1,
        "problems": [
            {
                "file": "runs.csv",
                "row": 6,
                "column": "good",
                "found": "20; worst:3",
                "advice": "A grade is one of: first, second, sample.",
            }
        ],
    }
    assert Item.objects.count() == 0


def test_what_only_posting_finds_comes_in_the_same_shape(api: APIClient) -> None:
    answer = send(api, bytes_of(changed("opening_lots.csv", "ADH-B,500,g", "ADH-B,14,g")))
    (problem,) = answer.json()["facts"]["problems"]
    assert (problem["file"], problem["row"]) == ("runs.csv", 3)
    assert (Item.objects.count(), Import.objects.count()) == (0, 0)


def test_what_is_said_of_the_files_is_taken(api: APIClient) -> None:
    data = b'Part no,name,kind,unit,piece_mass_mg,shade\nHOOK,Hook,hook,each,"1,234",x\n'
    pairs = ["items:Part no=code", "items:shade="]
    assert send(api, {"items.csv": data}, decimals="comma", heading=pairs).status_code == 201
    assert str(Item.objects.get(code="HOOK").piece_mass_mg).rstrip("0") == "1.234"
    kept = api.get(f"{IMPORTS}headings/").json()["results"]
    assert [(row["heading"], row["column"], row["kept_by"]) for row in kept] == [
        ("part_no", "code", "lead"),
        ("shade", "", "lead"),
    ]


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"chek": "true"}, "chek"),
        ({"check": "maybe"}, "check"),
        ({"encoding": "ebcdic"}, "encoding"),
        ({"decimals": ["comma", "point"]}, "decimals"),
        ({"dates": "year-first"}, "dates"),
    ],
)
def test_what_cannot_be_meant_is_refused(api: APIClient, said: dict[str, Any], field: str) -> None:
    assert set(fields(send(api, COLORS, **said))) == {field}
    assert Colorway.objects.count() == 0


def test_a_pair_that_is_none_is_refused(api: APIClient) -> None:
    answer = send(api, COLORS, heading="Shade")
    assert (answer.status_code, answer.json()["detail"][:24]) == (422, "“Shade” is no pair. Writ")


def test_files_are_needed_each_with_a_name_of_its_own(api: APIClient) -> None:
    none = api.post(IMPORTS, {"check": "true"}, format="multipart")
    assert fields(none) == {"files": ["Send at least one file, and at most 24."]}
    twice = [SimpleUploadedFile("colorways.csv", data) for data in (b"a", b"b")]
    answer = api.post(IMPORTS, {"files": twice, "check": "true"}, format="multipart")
    assert fields(answer) == {"files": ["Two files have one name."]}


@pytest.mark.parametrize(("count", "status"), [(24, 200), (25, 422)])
def test_so_many_files_are_taken(api: APIClient, count: int, status: int) -> None:
    files = {f"{sheet.name}.csv": csv_template(sheet) for sheet in SHEETS}
    more = {"again.csv": b"code\n"} if count > len(files) else {}
    assert send(api, {**files, **more}, check="true").status_code == status


def test_json_is_not_what_this_door_takes(api: APIClient) -> None:
    answer = post(api, "", {"files": []})
    assert (answer.status_code, answer.json()["code"]) == (415, "unsupported_media_type")


def test_more_rows_than_are_taken_are_told_the_command(
    api: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "ROWS_MAX", 1)
    data = b"code;name\nGRN;Green\nBLK;Black\n"
    assert send(api, COLORS, check="true").status_code == 200
    answer = send(api, {"colorways.csv": data}, encoding="utf-8", heading="colorways:Part no=code")
    assert (answer.status_code, answer.json()["code"]) == (413, "import_too_large")
    assert answer.json()["facts"]["command"] == (
        "python3 manage.py import FOLDER --by lead --encoding utf-8"
        " --heading 'colorways:Part no=code'"
    )
    assert Colorway.objects.count() == 0


def test_more_bytes_than_are_taken_are_told_the_command(
    api: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door.ImportsDoor, "body_size_max", 1000)
    answer = send(api, {"colorways.csv": bytes(1001)})
    assert (answer.status_code, answer.json()["code"]) == (413, "body_too_big")
    assert "python3 manage.py import FOLDER" in answer.json()["detail"]


def test_who_works_at_a_bench_reads_what_was_imported_and_imports_nothing(
    api: APIClient, bench: User
) -> None:
    number = send(api, COLORS).json()["number"]
    api.force_authenticate(bench)
    assert send(api, COLORS, key="two").status_code == 403
    assert api.get(f"{IMPORTS}{number}/").status_code == 200
    assert post(api, "headings/", {}).status_code == 403


@pytest.mark.parametrize("number", ["99", "9" * 30])
def test_an_import_that_is_not_there_is_not_found(api: APIClient, number: str) -> None:
    assert api.get(f"{IMPORTS}{number}/").status_code == 404


def test_a_list_of_imports_takes_three_queries(
    api: APIClient, django_assert_num_queries: Any
) -> None:
    send(api, COLORS)
    send(api, {"places.csv": b"code,name,kind\nA,A,shelf\n"}, key="two")
    with django_assert_num_queries(3):
        assert api.get(IMPORTS).json()["count"] == 2


def test_a_heading_is_said_listed_and_taken_back(api: APIClient) -> None:
    said = {"sheet": "items", "heading": "Part no.", "column": "code"}
    answer = post(api, "headings/", said)
    assert (answer.status_code, answer.json()["heading"]) == (201, "part_no")
    assert api.get(f"{IMPORTS}headings/").json()["results"] == [answer.json()]
    again = {"sheet": "items", "heading": "PART NO"}
    assert post(api, "headings/remove/", again, "two").json() == answer.json()
    assert SheetHeading.objects.count() == 0
    assert post(api, "headings/remove/", again, "three").status_code == 404


def test_a_heading_cannot_stand_for_a_column_that_is_not_there(api: APIClient) -> None:
    answer = post(api, "headings/", {"sheet": "items", "heading": "Part", "column": "number"})
    assert answer.json()["detail"] == "The sheet items has no column number."


def test_every_sheet_is_listed_with_its_columns(api: APIClient) -> None:
    sheets = api.get(f"{IMPORTS}templates/").json()["sheets"]
    assert [sheet["sheet"] for sheet in sheets] == [sheet.name for sheet in SHEETS]
    kind = next(column for column in sheets[3]["columns"] if column["name"] == "kind")
    assert (kind["must_be_filled"], kind["choices"]) == (True, ["shelf", "bench", "outside"])


def test_empty_sheets_are_handed_out(api: APIClient) -> None:
    text = api.get(f"{IMPORTS}templates/items.csv")
    xlsx = api.get(f"{IMPORTS}templates/items.xlsx")
    assert text.headers["Content-Disposition"] == 'attachment; filename="items.csv"'
    assert text.content.startswith(b"\xef\xbb\xbfcode,name,kind")
    assert load_workbook(BytesIO(xlsx.content)).sheetnames == ["items", "explanation"]
    assert api.get(f"{IMPORTS}templates/nothing.csv").status_code == 404


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_an_empty_sheet_comes_back_with_nothing_in_it_and_nothing_wrong(sheet: Any) -> None:
    for suffix, write in (("csv", csv_template), ("xlsx", xlsx_template)):
        reading = read_files({f"{sheet.name}.{suffix}": write(sheet)}, CLOCK)
        assert reading.problems == []
        assert reading.rows[sheet.name] == []
        assert reading.is_whole(sheet.space)


def test_a_row_below_the_explanation_is_read_and_the_explanation_is_not() -> None:
    sheet = next(sheet for sheet in SHEETS if sheet.name == "places")
    data = csv_template(sheet) + b"SHELF,Shelf,shelf\r\n"
    reading = read_files({"places.csv": data}, CLOCK)
    assert [(row.number, row["code"]) for row in reading.rows["places"]] == [(3, "SHELF")]
    changed_by_hand = data.replace(explanation(sheet.columns[1]).encode(), b"another name")
    assert len(read_files({"places.csv": changed_by_hand}, CLOCK).problems) > 0


def test_columns_with_choices_have_lists_to_choose_from() -> None:
    items = next(sheet for sheet in SHEETS if sheet.name == "items")
    table = load_workbook(BytesIO(xlsx_template(items))).worksheets[0]
    lists = {str(each.sqref): each.formula1 for each in table.data_validations.dataValidation}
    assert lists["C2:C20001"].startswith('"resin,colorant,')
    assert lists["M2:M20001"] == '"released,quarantined"'
    assert len(lists) == 3
    # Common practice, no source: spreadsheets take 255 characters for a list in the formula.
    assert max(len(formula.strip('"')) for formula in lists.values()) <= 255
