"""From a bare Python to Django: the environment, the data folder, what is said when it fails."""

from __future__ import annotations

import ast
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from shopfloor import bootstrap
from tests.needs import skip_aloud

MANAGE = bootstrap.ROOT / "manage.py"


@pytest.fixture
def data_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder that is not there yet, of a shop that sets nothing else."""
    for name in ("DATABASE_URL", "SHOP_SECRET_KEY", "SHOP_PRODUCTION"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("SHOP_DATA_DIR", str(tmp_path / "shop data"))
    return tmp_path / "shop data"


@pytest.fixture
def demo_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the project that has a demo."""
    (tmp_path / "demo").mkdir()
    monkeypatch.setattr(bootstrap, "DEMO", tmp_path / "demo")
    return tmp_path / "demo"


@pytest.fixture
def bare_copy(tmp_path: Path) -> Path:
    """The few files that run before anything is installed, with locks that name nothing."""
    copy = tmp_path / "bare copy"
    (copy / "shopfloor").mkdir(parents=True)
    (copy / "requirements").mkdir()
    shutil.copy(MANAGE, copy)
    for name in ("__init__.py", "bootstrap.py"):
        shutil.copy(bootstrap.ROOT / "shopfloor" / name, copy / "shopfloor")
    for name in ("run.txt", "dev.txt"):
        (copy / "requirements" / name).touch()
    return copy


def run(folder: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`manage.py` on a Python that has nothing installed."""
    base_python = getattr(sys, "_base_executable", sys.executable)
    command = [base_python, "-S", str(folder / "manage.py"), *args]
    return subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603


def test_an_old_python_can_read_manage_py_and_is_told_what_is_needed() -> None:
    source = MANAGE.read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 4))
    pretend = "import sys; sys.version_info = (3, 9, 2, 'final', 0); "
    code = f"{pretend}exec(compile({source!r}, 'manage.py', 'exec'), {{'__name__': 'x'}})"
    old = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)  # noqa: S603
    assert old.returncode == 1
    assert "needs Python 3.11 or newer, and this is 3.9" in old.stderr


def test_before_anything_is_installed_a_verb_of_django_shows_the_way(bare_copy: Path) -> None:
    result = run(bare_copy, "migrate")
    assert result.returncode == 1
    assert "manage.py start" in result.stdout
    assert not (bare_copy / ".venv").exists()


def test_start_makes_the_environment_and_installs_the_lock_once(bare_copy: Path) -> None:
    first = run(bare_copy, "start")
    again = run(bare_copy, "start")
    assert "Making the virtual environment" in first.stdout
    assert "requirements/run.txt" in first.stdout
    assert again.stdout == ""
    # The empty lock brought no Django, and that is said in words.
    assert "not installed yet" in again.stderr
    assert "Traceback" not in first.stderr + again.stderr


def test_the_locks_name_all_that_their_packages_need() -> None:
    """They are installed without looking for more."""
    command = [sys.executable, "-m", "pip", "check", "--disable-pip-version-check"]
    pip = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
    assert pip.returncode == 0, pip.stdout


def test_a_lock_that_cannot_be_installed_is_tried_again_next_time(bare_copy: Path) -> None:
    (bare_copy / "requirements" / "run.txt").write_text("-r nowhere.txt\n", encoding="utf-8")
    first = run(bare_copy, "start")
    again = run(bare_copy, "start")
    assert first.returncode == again.returncode == 1
    assert "nowhere.txt" in first.stderr
    assert "Installing the packages failed" in first.stderr
    assert "requirements/run.txt" in again.stdout


@pytest.mark.parametrize(
    ("pip_said", "advice"),
    [
        ("WARNING: Retrying ... NewConnectionError('...: [Errno 111]')", "Connect it to the inter"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "3.11 to 3.14"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES", "the lines above say why"),
    ],
)
def test_a_failed_installation_says_what_to_do(pip_said: str, advice: str) -> None:
    assert advice in bootstrap.advice_on(pip_said)


def test_a_lock_is_the_same_with_the_line_ends_of_windows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unix, windows = tmp_path / "unix.txt", tmp_path / "windows.txt"
    unix.write_bytes(b"django==5.2\n    --hash=sha256:00\n")
    windows.write_bytes(b"django==5.2\r\n    --hash=sha256:00\r\n")
    monkeypatch.setattr(bootstrap, "LOCKS", {"unix": unix, "windows": windows})
    assert bootstrap.lock_digest("unix") == bootstrap.lock_digest("windows")


def test_the_data_folder_gets_a_secret_key_that_stays(data_dir: Path) -> None:
    bootstrap.prepare_data_dir()
    key = bootstrap.secret_key_file().read_text(encoding="utf-8")
    bootstrap.prepare_data_dir()
    assert bootstrap.secret_key_file().read_text(encoding="utf-8") == key
    assert len(key) >= 50


def test_the_secret_key_is_for_the_eyes_of_its_user_alone(data_dir: Path) -> None:
    if os.name == "nt":
        skip_aloud("Windows keeps others out by the rights of the folder")
    bootstrap.prepare_data_dir()
    assert stat.S_IMODE(bootstrap.secret_key_file().stat().st_mode) == 0o600
    assert stat.S_IMODE(data_dir.stat().st_mode) == 0o700


def test_a_secret_key_from_outside_leaves_no_file(
    data_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHOP_SECRET_KEY", "from a vault")
    bootstrap.prepare_data_dir()
    assert list(data_dir.iterdir()) == []


def test_a_data_folder_that_cannot_be_made_is_said_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("SHOP_DATA_DIR", str(tmp_path / "file" / "shop"))
    with pytest.raises(bootstrap.SetUpError, match="SHOP_DATA_DIR"):
        bootstrap.prepare_data_dir()


def test_a_relative_data_folder_counts_from_the_project(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHOP_DATA_DIR", "shops/north")
    assert bootstrap.data_dir() == bootstrap.ROOT / "shops" / "north"


def test_a_brand_new_shop_is_the_made_up_one(data_dir: Path, demo_dir: Path) -> None:
    bootstrap.mark_demo(["start", "--lan"])
    assert bootstrap.demo_marker().read_text(encoding="utf-8") == "loading"


@pytest.mark.parametrize(
    ("args", "setting"),
    [
        (["start", "--empty"], ("SHOP_NAME", "Ours")),
        (["start", "--help"], ("SHOP_NAME", "Ours")),
        (["start"], ("DATABASE_URL", "postgres://shop@localhost/shop")),
        (["start"], ("SHOP_PRODUCTION", "1")),
    ],
)
def test_the_made_up_shop_keeps_out_where_it_is_not_wanted(
    args: list[str],
    setting: tuple[str, str],
    data_dir: Path,
    demo_dir: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv(*setting)
    bootstrap.mark_demo(args)
    assert not bootstrap.demo_marker().exists()


def test_the_made_up_shop_keeps_out_of_a_shop_that_stands(data_dir: Path, demo_dir: Path) -> None:
    bootstrap.prepare_data_dir()
    with closing(sqlite3.connect(bootstrap.sqlite_file())) as connection:
        connection.execute("CREATE TABLE lots (code TEXT)")
    bootstrap.mark_demo(["start"])
    assert not bootstrap.demo_marker().exists()


def test_a_database_file_without_a_table_is_still_a_new_shop(
    data_dir: Path, demo_dir: Path
) -> None:
    bootstrap.prepare_data_dir()
    bootstrap.sqlite_file().touch()
    bootstrap.mark_demo(["start"])
    assert bootstrap.demo_marker().exists()
