"""The files of docs/deploy/: what they name exists, and they agree with each other and the page."""

from __future__ import annotations

import re
import shlex
import stat
import subprocess
from configparser import ConfigParser
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands, load_command_class
from django.core.management.base import BaseCommand

from shopfloor.bootstrap import ROOT
from tests.needs import need_program

DEPLOY = ROOT / "docs" / "deploy"
UNITS = sorted([*DEPLOY.glob("*.service"), *DEPLOY.glob("*.timer")])
PAGE = (ROOT / "docs" / "operating.md").read_text(encoding="utf-8")
SHELL_FILES = [DEPLOY / "crontab", DEPLOY / "shop"]


def text_of(name: str) -> str:
    return (DEPLOY / name).read_text(encoding="utf-8")


def values(unit: Path, key: str) -> list[str]:
    found = re.findall(rf"^{key}=(.*)$", unit.read_text(encoding="utf-8"), re.MULTILINE)
    return [str(value) for value in found]


def environment() -> dict[str, str]:
    lines = [line for line in text_of("lure-shop.env").splitlines() if not line.startswith("#")]
    return dict(line.split("=", 1) for line in lines)


def manage_lines() -> list[list[str]]:
    """Every `manage.py ...` of the files, and every `manage.py` and `shop` line of the page."""
    texts = [path.read_text(encoding="utf-8") for path in [*UNITS, DEPLOY / "crontab"]]
    found = [line for text in texts for line in re.findall(r"manage\.py (.+)$", text, re.MULTILINE)]
    found += re.findall(r"`shop ([a-z][^`]*)`", PAGE)
    found += re.findall(r"`python3 manage\.py ([^`]*)`", PAGE)
    return [shlex.split(line.replace("\\", "/")) for line in found]


def command(verb: str) -> BaseCommand:
    app = get_commands()[verb]
    return load_command_class(str(app), verb)


def test_every_command_that_a_file_or_the_page_names_takes_what_it_is_given() -> None:
    lines = [line for line in manage_lines() if line[0] != "test"]
    assert len(lines) > 15
    for verb, *args in lines:
        parser = command(verb).create_parser("manage.py", verb)
        known = {option for action in parser._actions for option in action.option_strings}
        assert {arg for arg in args if arg.startswith("-")} <= known, (verb, args)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_systemd_finds_no_fault_with_a_unit(unit: Path, tmp_path: Path) -> None:
    """With programs that are there: the folders are those of a machine set up by the page."""
    program = need_program("systemd-analyze", package="systemd")
    changed = tmp_path / unit.name
    for each in UNITS:
        text = each.read_text(encoding="utf-8").replace("/opt/lure-shop/.venv/bin/", "/bin/true ")
        (tmp_path / each.name).write_text(text, encoding="utf-8")
    run = subprocess.run(  # noqa: S603 - systemd's own
        [program, "verify", "--man=no", str(changed)], capture_output=True, text=True, check=False
    )
    about_it = [line for line in run.stderr.splitlines() if unit.name in line or run.returncode]
    assert (run.returncode, about_it) == (0, [])


def test_the_proxy_asks_where_the_service_listens() -> None:
    (start,) = values(DEPLOY / "lure-shop.service", "ExecStart")
    bind = re.search(r"--bind (\S+)", start)
    asked = re.search(r"proxy_pass http://(\S+);", text_of("nginx.conf"))
    assert bind is not None
    assert asked is not None
    assert bind[1] == asked[1]
    assert "shopfloor.wsgi" in start.split()
    assert settings.WSGI_APPLICATION == "shopfloor.wsgi.application"


def test_the_proxy_replaces_every_header_that_the_program_believes() -> None:
    replaced = set(re.findall(r"proxy_set_header (\S+)", text_of("nginx.conf")))
    assert {"Host", "X-Forwarded-For", "X-Forwarded-Proto", "X-Request-ID"} <= replaced


def test_the_proxy_lets_through_all_that_the_program_would_judge_itself() -> None:
    (size,) = re.findall(r"client_max_body_size (\d+)m;", text_of("nginx.conf"))
    assert int(size) * 1024 * 1024 >= settings.SERVER_BODY_SIZE_MAX


def test_the_settings_of_the_server_are_settings_that_there_are() -> None:
    explained = set(re.findall(r"^\| `([A-Z_]+)` \|", PAGE, re.MULTILINE))
    told = environment()
    assert set(told) <= explained
    assert told["SHOP_PRODUCTION"] == "1"
    assert told["SHOP_ALLOWED_HOSTS"] in text_of("nginx.conf")


def test_the_units_write_only_where_the_settings_and_the_page_say() -> None:
    backup = DEPLOY / "lure-shop-backup.service"
    (folder,) = values(backup, "ReadWritePaths")
    into = [line.split("manage.py ")[1].split() for line in values(backup, "ExecStart")]
    assert into == [["backup", folder, "--keep", "30"], ["backup", "--check", folder]]
    assert folder in PAGE
    for unit in (backup, DEPLOY / "lure-shop.service"):
        (state,) = values(unit, "StateDirectory")
        assert environment()["SHOP_DATA_DIR"] == f"/var/lib/{state}"
        assert values(unit, "EnvironmentFile") == ["/etc/lure-shop.env"]
        assert values(unit, "User") == ["lure-shop"]


def test_the_timer_is_for_the_backup() -> None:
    timer = ConfigParser(interpolation=None)
    timer.optionxform = str  # type: ignore[assignment,method-assign]  # as its documentation says
    timer.read_string(text_of("lure-shop-backup.timer"))
    assert "Unit" not in timer["Timer"]  # so it is the service of the same name
    assert (DEPLOY / "lure-shop-backup.service").exists()
    program = need_program("systemd-analyze", package="systemd")
    times = [program, "calendar", timer["Timer"]["OnCalendar"]]
    assert "Next elapse" in subprocess.run(times, capture_output=True, text=True, check=True).stdout  # noqa: S603


@pytest.mark.parametrize("file", [DEPLOY / "shop"], ids=lambda file: file.name)
def test_the_shell_reads_what_is_written_for_it(file: Path) -> None:
    assert file.stat().st_mode & stat.S_IXUSR
    subprocess.run(["/bin/sh", "-n", str(file)], check=True)  # noqa: S603
    read = f'. {DEPLOY / "lure-shop.env"} && echo "$SHOP_NAME"'
    shown = subprocess.run(["/bin/sh", "-c", read], capture_output=True, text=True, check=True)  # noqa: S603
    assert shown.stdout == "Lure shop\n"


def test_nginx_takes_the_configuration(tmp_path: Path) -> None:
    """On ports and with a certificate of the test's own."""
    nginx = need_program("nginx", package="nginx-light")
    openssl = need_program("openssl", package="openssl")
    made = [openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "1"]
    made += ["-keyout", f"{tmp_path}/key.pem", "-out", f"{tmp_path}/certificate.pem"]
    subprocess.run([*made, "-subj", "/CN=shop.example"], capture_output=True, check=True)  # noqa: S603
    site = text_of("nginx.conf").replace("/etc/ssl/lure-shop", str(tmp_path))
    (tmp_path / "nginx.conf").write_text(
        f"pid {tmp_path}/pid;\nevents {{}}\nhttp {{\n{site}\n}}\n", encoding="utf-8"
    )
    checked = subprocess.run(  # noqa: S603
        [nginx, "-t", "-q", "-e", f"{tmp_path}/errors", "-c", f"{tmp_path}/nginx.conf"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (checked.returncode, checked.stderr) == (0, "")
