"""Settings as another process reads them from its environment."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.template import engines

from shopfloor.bootstrap import ROOT

PRODUCTION = {
    "SHOP_PRODUCTION": "1",
    "SHOP_ALLOWED_HOSTS": "shop.example, 10.0.0.5",
    "SHOP_SECRET_KEY": "tZ3v-only-for-this-test-9QkXw2LmR7sYb4NcJ8dGf6HpA1eUo5Ti",
}
READ = """
import json
from shopfloor import settings
print(json.dumps({name: str(value) for name, value in vars(settings).items() if name.isupper()}))
"""


def run(*args: str, data_dir: Path, **env: str) -> subprocess.CompletedProcess[str]:
    """A Python in the project's folder that knows of no shop but this one."""
    plain = {
        n: v for n, v in os.environ.items() if not n.startswith(("SHOP_", "DATABASE_", "DJANGO_"))
    }
    return subprocess.run(  # noqa: S603
        [sys.executable, *args],
        cwd=ROOT,
        env={**plain, "SHOP_DATA_DIR": str(data_dir), **env},
        capture_output=True,
        text=True,
        check=False,
    )


def read(data_dir: Path, **env: str) -> dict[str, Any]:
    """The settings, as text."""
    answer: dict[str, Any] = json.loads(run("-c", READ, data_dir=data_dir, **env).stdout)
    return answer


def test_without_a_word_the_shop_is_safe_and_on_this_machine(tmp_path: Path) -> None:
    settings = read(tmp_path)
    assert settings["DEBUG"] == "False"
    assert settings["ALLOWED_HOSTS"] == "['localhost', '127.0.0.1', '[::1]']"
    assert settings["SHOP_TIME_ZONE"] == "UTC"
    assert settings["SHOP_CURRENCY"] == "USD"
    assert settings["SHOP_GS1_PREFIX"] == ""
    assert settings["SHOP_IS_DEMO"] == "False"
    assert settings["PASSWORD_HASHERS"] == "['django.contrib.auth.hashers.ScryptPasswordHasher']"
    assert str(tmp_path / "shop.sqlite3") in settings["DATABASES"]


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("", ""),
        ("HTTPS://Shop.example/", "https://shop.example"),
        ("http://192.0.2.7:8000", "http://192.0.2.7:8000"),
        ("http://[2001:db8::7]:65535", "http://[2001:db8::7]:65535"),
        (f"https://{'s' * 44}.example", f"https://{'s' * 44}.example"),
    ],
)
def test_the_address_on_papers_is_short_and_without_a_path(
    given: str, kept: str, tmp_path: Path
) -> None:
    assert read(tmp_path, SHOP_ADDRESS=given)["SHOP_ADDRESS"] == kept


def test_reading_the_settings_writes_nothing(tmp_path: Path) -> None:
    read(tmp_path / "not yet")
    assert not (tmp_path / "not yet").exists()


def test_a_secret_key_is_never_the_same_by_chance_and_comes_from_its_file(tmp_path: Path) -> None:
    assert read(tmp_path)["SECRET_KEY"] != read(tmp_path)["SECRET_KEY"]
    (tmp_path / "secret-key.txt").write_text("kept\n", encoding="utf-8")
    assert read(tmp_path)["SECRET_KEY"] == "kept"


def test_the_made_up_shop_says_demo_and_keeps_a_zone_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "demo.txt").touch()
    settings = read(tmp_path)
    assert settings["SHOP_IS_DEMO"] == "True"
    assert "DEMO" in settings["SHOP_NAME"]
    assert settings["SHOP_TIME_ZONE"] == "America/Chicago"
    assert settings["SHOP_GS1_PREFIX"].startswith("952")


@pytest.mark.parametrize(
    ("env", "said"),
    [
        ({"SHOP_TIME_ZONE": "Central"}, "SHOP_TIME_ZONE"),
        ({"SHOP_TIME_ZONE": "../etc/passwd"}, "SHOP_TIME_ZONE"),
        ({"SHOP_CURRENCY": "usd"}, "ISO 4217"),
        ({"SHOP_GS1_PREFIX": "952"}, "SHOP_GS1_PREFIX: A GS1 company prefix has 4 to 12 digits."),
        ({"SHOP_GS1_PREFIX": "0412345"}, "restricted circulation"),
        ({"SHOP_GS1_PREFIX": "9521234"}, "is for examples"),
        ({"SHOP_ADDRESS": "shop.example"}, "SHOP_ADDRESS is like https://shop.example"),
        ({"SHOP_ADDRESS": "https://shop.example/lures"}, "without a path"),
        ({"SHOP_ADDRESS": "ftp://shop.example"}, "SHOP_ADDRESS is like"),
        ({"SHOP_ADDRESS": "http://me@shop.example"}, "SHOP_ADDRESS is like"),
        ({"SHOP_ADDRESS": "http://192.0.2.7:65536"}, "SHOP_ADDRESS is like"),
        ({"SHOP_ADDRESS": f"https://{'s' * 46}.example"}, "at most 60 long"),
        ({"SHOP_ADDRESS": "http://localhost:8000"}, "to itself"),
        ({"SHOP_ADDRESS": "http://127.0.0.1"}, "to itself"),
        ({**PRODUCTION, "SHOP_ADDRESS": "http://shop.example"}, "begins with https://"),
        ({"SHOP_PRODUCTION": "maybe"}, "1 or 0"),
        ({"SHOP_PRODUCTION": "1", "SHOP_SECRET_KEY": "k"}, "SHOP_ALLOWED_HOSTS"),
        ({"SHOP_PRODUCTION": "1", "SHOP_ALLOWED_HOSTS": "shop.example"}, "SHOP_SECRET_KEY"),
    ],
)
def test_a_setting_that_makes_no_sense_stops_the_start(
    env: dict[str, str], said: str, tmp_path: Path
) -> None:
    result = run("-c", "import shopfloor.settings", data_dir=tmp_path, **env)
    assert result.returncode == 1
    assert said in result.stderr.splitlines()[-1]


def test_production_is_https_only_and_passes_djangos_deployment_check(tmp_path: Path) -> None:
    settings = read(tmp_path, **PRODUCTION)
    assert settings["ALLOWED_HOSTS"] == "['shop.example', '10.0.0.5']"
    assert settings["SECURE_SSL_REDIRECT"] == "True"
    check = ("manage.py", "check", "--deploy", "--fail-level", "WARNING")
    checked = run(*check, data_dir=tmp_path, **PRODUCTION)
    assert checked.stderr + checked.stdout.partition("(")[0] == (
        "System check identified no issues "
    )


def test_a_database_address_takes_the_place_of_the_file(tmp_path: Path) -> None:
    databases = read(tmp_path, DATABASE_URL="postgres://shop:pw@db.example:5433/lures")["DATABASES"]
    assert "postgresql" in databases
    assert "'PORT': 5433" in databases
    assert "sqlite" not in databases


@pytest.mark.only_on("sqlite")
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("pragma", "value"),
    [
        ("synchronous", 2),  # FULL, https://www.sqlite.org/pragma.html#pragma_synchronous
        ("foreign_keys", 1),
        ("recursive_triggers", 1),
        ("busy_timeout", 20000),
    ],
)
def test_sqlite_keeps_what_it_was_told(pragma: str, value: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {pragma}")
        assert cursor.fetchone() == (value,)


def test_a_date_on_a_page_reads_year_month_day() -> None:
    moment = datetime(2026, 3, 4, 15, 6, tzinfo=UTC)
    page = engines["django"].from_string("{{ at }} {{ at|date }} {{ at|time }}")
    assert page.render({"at": moment}) == "2026-03-04 15:06 2026-03-04 15:06"
