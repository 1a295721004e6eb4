"""What holds for the whole house: documents agree with the code, doors are shut, nothing skips."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.http.response import HttpResponseBase
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from shopfloor import append_only
from shopfloor.apps import triggers_stand
from shopfloor.bootstrap import ROOT
from shopfloor.models import Change
from shopfloor.operations import create_first_owner

FLOORS = ("inventory", "batches")
# Signing out is a POST; a GET is answered 405 and tells nothing.
OPEN_TO_ALL = {"/sign-in/", "/health/", "/sign-out/"}


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def rooms_of(floor: str) -> set[str]:
    folders = {path.parent.name for path in (ROOT / floor).glob("*/__init__.py")}
    return folders - {"migrations", "management", "templatetags"}


def sources() -> Iterator[Path]:
    for top in ("shopfloor", *FLOORS, "tests"):
        yield from (ROOT / top).rglob("*.py")


@pytest.mark.parametrize("floor", FLOORS)
def test_every_room_has_its_line_and_its_place_and_none_is_only_on_paper(floor: str) -> None:
    described = set(re.findall(rf"^\| `{floor}/(\w+)/` \|", text_of("docs/rooms.md"), re.MULTILINE))
    contracts = tomllib.loads(text_of("pyproject.toml"))["tool"]["importlinter"]["contracts"]
    layers = {c["id"]: c["layers"] for c in contracts if c["type"] == "layers"}
    assert described == rooms_of(floor)
    assert set(layers[f"rooms-{floor}"]) == rooms_of(floor)


@pytest.mark.parametrize("floor", FLOORS)
def test_the_rooms_stand_in_one_order_on_paper_and_in_the_contract(floor: str) -> None:
    described = re.findall(rf"^\| `{floor}/(\w+)/` \|", text_of("docs/rooms.md"), re.MULTILINE)
    contracts = tomllib.loads(text_of("pyproject.toml"))["tool"]["importlinter"]["contracts"]
    assert [c["layers"] for c in contracts if c["id"] == f"rooms-{floor}"] == [described]


def test_every_setting_is_explained_and_none_that_is_not_there() -> None:
    code = text_of("shopfloor/settings.py") + text_of("shopfloor/bootstrap.py")
    read = set(re.findall(r'"((?:SHOP|DATABASE)_[A-Z_]+)"', code)) - {"SHOP_NOTHING_SKIPPED"}
    explained = set(re.findall(r"^\| `([A-Z_]+)` \|", text_of("docs/operating.md"), re.MULTILINE))
    assert read == explained


def test_the_two_commands_of_the_readme_are_the_ones_that_are_there() -> None:
    readme = text_of("README.md")
    assert "\n    python3 manage.py start\n    python3 manage.py test\n" in readme
    assert "python3 manage.py test" in text_of(".ci/run")


def test_the_lock_for_developers_holds_the_lock_for_shops() -> None:
    run, dev = (
        set(re.findall(r"^[a-z].*?==\S+", text_of(f"requirements/{name}.txt"), re.MULTILINE))
        for name in ("run", "dev")
    )
    assert len(run) > 20
    assert run <= dev


def test_the_locks_name_no_index_and_hash_every_package() -> None:
    lock = text_of("requirements/dev.txt")
    packages = re.split(r"^(?=[a-z0-9].*==)", lock, flags=re.MULTILINE)[1:]
    assert "://" not in lock
    assert [package for package in packages if "--hash=sha256:" not in package] == []


def test_nothing_skips_but_needs() -> None:
    skips = re.compile(r"pytest\.(skip|importorskip|mark\.skip)|unittest\.skip|SkipTest")
    allowed = {ROOT / "tests" / "needs.py", ROOT / "tests" / "test_house.py"}
    found = [str(path) for path in sources() if skips.search(path.read_text(encoding="utf-8"))]
    assert set(found) - {str(path) for path in allowed} == set()


def test_no_file_has_a_name_that_promises_nothing() -> None:
    banned = {"utils", "helpers", "common", "managers", "services", "base"}
    assert [str(path) for path in sources() if path.stem in banned] == []


def test_no_file_is_past_four_hundred_lines() -> None:
    long = [
        f"{path.relative_to(ROOT)}: {lines}"
        for path in sources()
        if (lines := path.read_text(encoding="utf-8").count("\n")) > 400
        and path.parent.name != "migrations"
    ]
    assert long == []


def addresses(patterns: list[URLPattern | URLResolver], before: str = "/") -> Iterator[str]:
    """Every address; a part that varies is filled in."""
    for entry in patterns:
        address = before + re.sub(
            r"<int:\w+>", "1", re.sub(r"<(str:)?\w+>", "x", str(entry.pattern))
        )
        if isinstance(entry, URLResolver):
            yield from addresses(entry.url_patterns, address)
        else:
            yield address


def wants_sign_in(answer: HttpResponseBase) -> bool:
    return answer.status_code == 401 or answer.headers.get("Location", "").startswith("/sign-in/")


@pytest.mark.django_db
def test_every_address_wants_a_sign_in_but_those_that_need_none(client: Client) -> None:
    answers = {address: client.get(address) for address in addresses(get_resolver().url_patterns)}
    let_in = {address for address, answer in answers.items() if not wants_sign_in(answer)}
    assert len(answers) > 10
    assert let_in == OPEN_TO_ALL


@pytest.mark.django_db(transaction=True)
def test_a_flush_empties_append_only_tables_and_puts_their_guard_back() -> None:
    create_first_owner(username="robin", display_name="Robin", password=None, at=timezone.now())
    assert Change.objects.count() == 1
    call_command("flush", interactive=False, verbosity=0)
    assert Change.objects.count() == 0
    assert append_only.missing_triggers() == []
    create_first_owner(username="robin", display_name="Robin", password=None, at=timezone.now())
    with pytest.raises(DatabaseError), transaction.atomic():
        Change.objects.all().delete()


@pytest.mark.django_db(transaction=True)
def test_a_missing_trigger_is_warned_of_and_migrate_puts_it_back() -> None:
    assert triggers_stand(None, ["default"]) == []
    append_only.drop_triggers()
    warnings = triggers_stand(None, ["default"])
    assert len(warnings) == len(append_only.expected_triggers(connection.vendor))
    assert {warning.id for warning in warnings} == {"shopfloor.W001"}
    call_command("migrate", verbosity=0)
    assert triggers_stand(None, ["default"]) == []
