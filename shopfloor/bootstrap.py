"""What `manage.py` does before Django is there: virtual environment, packages, data folder.

Standard library only, and nothing that one system has and another lacks.
"""

from __future__ import annotations

import gc
import hashlib
import importlib.util
import os
import secrets
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
DEMO = ROOT / "fixtures" / "demo"
DEMO_MARKER = "demo.txt"
BESIDE_MARKER = "beside.txt"
OWN = "own"
LOCKS = {"run": ROOT / "requirements" / "run.txt", "dev": ROOT / "requirements" / "dev.txt"}

USAGE = """\
python3 manage.py start [--port N] [--lan] [--empty]   set up and run the shop on this machine
python3 manage.py restore FILE                         set up the shop that is in a backup
python3 manage.py test [what pytest takes]             set up and run the tests
python3 manage.py VERB                                 any other verb, after one of these"""

# What pip says when it cannot reach a package index at all.
NO_NETWORK_SIGNS = (
    "Failed to establish a new connection",
    "NewConnectionError",
    "NameResolutionError",
    "ConnectTimeoutError",
    "Connection timed out",
    "Cannot connect to proxy",
)


class SetUpError(Exception):
    """The machine lacks something; the message says what to do about it."""


def main(args: list[str]) -> int:
    """Run one command line, without the name of the program; answers the exit code."""
    verb = args[0] if args else "help"
    try:
        if verb in {"start", "restore"}:  # a new machine begins with one of them
            make_ready("run")
            if verb == "start" and is_inside_venv():
                mark_demo(args)
        elif verb == "test":
            return run_tests(args[1:])
        elif not django_is_here():
            print(USAGE)
            return 0 if verb in {"help", "--help", "-h"} else 1
        return run_django(args)
    except SetUpError as error:
        print(error, file=sys.stderr)
        return 1


def venv_python() -> Path:
    """The interpreter of the virtual environment, there or not."""
    return VENV / "Scripts" / "python.exe" if os.name == "nt" else VENV / "bin" / "python"


def is_inside_venv() -> bool:
    """Whether this very process runs on the interpreter of `.venv`."""
    return Path(sys.prefix).resolve() == VENV.resolve()


def django_is_here() -> bool:
    """Whether Django's verbs can run: in `.venv`, or beside the interpreter that runs this."""
    return venv_python().exists() or importlib.util.find_spec("django") is not None


def lock_digest(lock: str) -> str:
    """SHA-256 of a lock, the same whichever way git wrote its line ends."""
    text = LOCKS[lock].read_text(encoding="utf-8")
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def installed_locks() -> dict[str, str]:
    """Name and digest of each lock that was installed to its end."""
    marker = VENV / "installed-locks.txt"
    if not marker.exists():
        return {}
    lines = marker.read_text(encoding="utf-8").splitlines()
    return dict(line.split(" ", 1) for line in lines if " " in line)


def make_ready(lock: str) -> None:
    """Have a virtual environment with everything that a lock names; quick when it is there already.

    Raises:
        SetUpError: the environment cannot be made, or the packages cannot be had.
    """
    if not is_inside_venv() and not _runs(venv_python(), "-c", ""):
        _make_venv()
    if installed_locks().get(lock) == lock_digest(lock):
        return
    if not is_inside_venv() and not _runs(venv_python(), "-m", "pip", "--version"):
        _make_venv()
    _install(lock)


def run_tests(pytest_args: list[str]) -> int:
    """Run pytest in the project's folder, unmoved by the settings of a shop that runs here too."""
    make_ready("dev")
    os.chdir(ROOT)
    for name in [n for n in os.environ if n.startswith("SHOP_") and n != "SHOP_NOTHING_SKIPPED"]:
        del os.environ[name]
    return _become([str(venv_python()), "-m", "pytest", *pytest_args])


def run_django(args: list[str]) -> int:
    """Run one of Django's verbs, or one of ours, on the interpreter that has Django."""
    if venv_python().exists() and not is_inside_venv():
        return _become([str(venv_python()), str(ROOT / "manage.py"), *args])
    if importlib.util.find_spec("django") is None:
        raise SetUpError(f"The packages are not installed yet. First:\n{USAGE}")
    prepare_data_dir()
    gc.set_threshold(20_000, 20, 50)  # what modules are made of is no garbage: look seldom
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
    from django.core.management import execute_from_command_line  # noqa: PLC0415 - not there before

    execute_from_command_line(["manage.py", *args])
    return 0


def named_dir() -> Path:
    """The folder that SHOP_DATA_DIR names; relative names count from the project's folder."""
    return (ROOT / Path(os.environ.get("SHOP_DATA_DIR") or "var").expanduser()).resolve()


def own_dir() -> Path:
    """The folder of the shop itself: within the demo's, where that was left for an own shop."""
    own = named_dir() / OWN
    is_in_demo = has_demo_beside() and _said(named_dir() / DEMO_MARKER) == "loaded"
    return own if is_in_demo and own.is_dir() else named_dir()


def has_demo_beside() -> bool:
    """Whether a demo may stand beside the shop: never beside one on a server or in production."""
    return not (os.environ.get("DATABASE_URL") or os.environ.get("SHOP_PRODUCTION"))


def demo_beside() -> Path:
    """The folder of a demo that is looked at beside a shop of one's own."""
    return own_dir() / "demo"


def beside_marker() -> Path:
    """Stands in that demo alone: `filling`, then `visited`, and how it was left."""
    return demo_beside() / BESIDE_MARKER


def is_visiting_demo() -> bool:
    """Whether that demo is looked at."""
    return has_demo_beside() and _said(beside_marker()) == "visited"


def data_dir() -> Path:
    """The folder of all that is the shop's own; of the demo's, while that is looked at."""
    return demo_beside() if is_visiting_demo() else own_dir()


def _said(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except OSError:
        return ""


def put_demo_away() -> None:
    """Delete a demo that was left; move one aside in which somebody had worked."""
    demo, said = demo_beside(), _said(beside_marker())
    try:
        if said == "left":
            shutil.rmtree(demo)
        elif said.startswith("kept"):
            demo.rename(demo.with_name(f"demo-{said}"))
    except OSError:  # another program holds its files: the next start tries again
        if demo.is_dir():
            beside_marker().write_text(said, encoding="utf-8")


def may_delete_demo_beside() -> bool:
    """Whether what stands there is a demo that broke off or was left, and no shop."""
    return _said(beside_marker()) in {"filling", "left"}


def secret_key_file() -> Path:
    """Where a shop keeps its signing key unless SHOP_SECRET_KEY gives one."""
    return data_dir() / "secret-key.txt"


def sqlite_file() -> Path:
    """The database of a shop that names no other in DATABASE_URL."""
    return data_dir() / "shop.sqlite3"


def demo_marker() -> Path:
    """Stands in the data folder of the made-up shop; says `loading` until all of it is there."""
    return data_dir() / DEMO_MARKER


def mark_demo(start_args: list[str]) -> None:
    """Make a brand-new shop the made-up one, unless it is asked to be empty.

    Never a shop on a database server or in production: what is there may be someone's own.
    """
    is_asked = not {"--empty", "-h", "--help"} & set(start_args)
    may_be = has_demo_beside() and data_dir() == named_dir()  # no own shop that a demo was left for
    if is_asked and may_be and DEMO.is_dir() and not _has_tables(sqlite_file()):
        prepare_data_dir()
        demo_marker().write_text("loading", encoding="utf-8")


def _has_tables(file: Path) -> bool:
    if not file.exists():
        return False
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as connection:
        return bool(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])


def prepare_data_dir() -> None:
    """Make the data folder and the secret key in it, for this user alone where the system can.

    Raises:
        SetUpError: the folder cannot be written.
    """
    try:
        data_dir().mkdir(mode=0o700, parents=True, exist_ok=True)
        if os.environ.get("SHOP_SECRET_KEY") or secret_key_file().exists():
            return
        write_private(secret_key_file(), secrets.token_urlsafe(64))
    except OSError as error:
        raise SetUpError(
            f"The data folder {data_dir()} cannot be written ({error}). "
            "Set SHOP_DATA_DIR to a folder that you may write."
        ) from error


def write_private(path: Path, text: str) -> None:
    """Write a file that did not exist, for the eyes of this user alone where the system can."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(text)


def start_again(options: list[str]) -> int:
    """Run `start` in the place of this process."""
    return _become([sys.executable, str(ROOT / "manage.py"), "start", *options])


def _become(command: list[str]) -> int:
    """Run a command in the place of this process.

    Windows has no true exec (the shell would not wait for it), so there the command is a child.
    """
    sys.stdout.flush()
    if os.name != "nt":
        os.execv(command[0], command)  # noqa: S606 - no shell wanted
    with subprocess.Popen(command) as child:
        while True:
            try:
                return child.wait()
            except KeyboardInterrupt:  # the child got it too, and ends in its own way
                continue


def _runs(python: Path, *args: str) -> bool:
    if not python.exists():
        return False
    return subprocess.run([str(python), *args], capture_output=True, check=False).returncode == 0


def _make_venv() -> None:
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise SetUpError(
            "This Python comes without its venv part. On Debian or Ubuntu: "
            "apt-get install python3-venv. Then run the same command again."
        )
    print("Making the virtual environment .venv ...", flush=True)
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    if made.returncode != 0:
        raise SetUpError(
            f"{made.stdout}{made.stderr}\nThe virtual environment {VENV} could not be made. "
            "Free some disk space, check that you may write there, and run the same command again."
        )


def _install(lock: str) -> None:
    path = LOCKS[lock]
    print(
        f"Installing what requirements/{path.name} names; this needs the internet, once ...",
        flush=True,
    )
    command = [str(venv_python()), "-m", "pip", "install", "--quiet", "--no-input"]
    command += ["--disable-pip-version-check", "--progress-bar=off", "--no-compile"]
    # The lock is whole, so nothing is left to resolve: left to itself, pip takes the newest release
    # of `package[extra]` for a need of its own, and refuses it since the lock has another.
    command += ["--only-binary=:all:", "--require-hashes", "--no-deps", "-r", str(path)]
    pip = subprocess.run(command, stderr=subprocess.PIPE, text=True, errors="replace", check=False)
    if pip.returncode != 0:
        raise SetUpError(f"{pip.stderr}\n{advice_on(pip.stderr)}")
    # On all cores; pip would on one, a third of its time. What cannot be compiled nobody imports.
    compiling = [str(venv_python()), "-m", "compileall", "-qq", "-j", "0", str(VENV)]
    subprocess.run(compiling, capture_output=True, check=False)
    # dev.txt holds every line of run.txt (a test compares them), so it makes both ready.
    ready = {**installed_locks(), lock: lock_digest(lock)}
    if lock == "dev":
        ready["run"] = lock_digest("run")
    lines = "".join(f"{name} {digest}\n" for name, digest in sorted(ready.items()))
    (VENV / "installed-locks.txt").write_text(lines, encoding="utf-8")


def advice_on(pip_said: str) -> str:
    """What a person can do about pip's complaint."""
    again = "Then run the same command again; what was downloaded is kept."
    if any(sign in pip_said for sign in NO_NETWORK_SIGNS):
        return (
            "The package index cannot be reached from this machine. Connect it to the internet "
            f"for this one step (behind a proxy: set HTTPS_PROXY). {again}"
        )
    if "No matching distribution" in pip_said:
        return (
            "A package has no ready-made build for this Python "
            f"({sys.version_info[0]}.{sys.version_info[1]}). Python 3.11 to 3.14 (64 bit) on "
            f"Windows, macOS and Linux are served: delete .venv and use one of them. {again}"
        )
    return f"Installing the packages failed; the lines above say why. {again}"
