"""`manage.py start`, once Django is there: back up, migrate, first sign-in, demo, serve."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import socket
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError
from django.core.wsgi import get_wsgi_application
from django.db import connections
from django.utils import timezone

from shopfloor import bootstrap, demo
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.making import make_backup
from shopfloor.backup.places import BEFORE_UPDATE, backups_folder
from shopfloor.management.shop_command import has_shop
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from shopfloor.running import AlreadyRunningError, running_shop
from shopfloor.schema import TOO_NEW, newer_migrations, waiting_migrations

FIRST_NAME = "owner"
PASSWORD_ALPHABET = "abcdefghkmnpqrstuvwxyz23456789"  # noqa: S105 - none that looks like another
PASSWORD_GROUPS = 4
PASSWORD_GROUP_LENGTH = 4  # 16 of 30 characters: 78 bits
UPDATES_KEPT = 5  # backups from before an update: a fault of one may be seen only after the next
THREADS = 24  # those that wait for a long import to end leave some to who only reads


class Command(BaseCommand):
    """Sets up what is missing and serves the shop until Ctrl-C."""

    help = "Set up what is missing and serve the shop until Ctrl-C."
    requires_system_checks = ()  # `migrate` checks what it needs, and mends the triggers

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.channels: dict[int, Any] = {}  # of the server, which ends when there are none
        self.wanted: demo.Shop | None = None

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("--port", type=int, default=8000, help="0 takes a free one")
        parser.add_argument(
            "--lan", action="store_true", help="serve the network, not this machine alone"
        )
        parser.add_argument("--empty", action="store_true", help="a new shop without the demo")
        parser.add_argument(
            "--without-backup",
            action="store_true",
            help="update the database of a shop that stands without a backup of it",
        )

    def handle(
        self, *, port: int, lan: bool, empty: bool, without_backup: bool, **options: Any
    ) -> None:
        """Run it all, in the order in which a person would want to hear of trouble."""
        bootstrap.put_demo_away()
        if empty and bootstrap.is_visiting_demo():
            raise CommandError(
                "The demo is open beside this shop. Start without --empty, and leave it by the "
                "button on its first page."
            )
        if empty and settings.SHOP_IS_DEMO:
            raise CommandError(
                f"The data folder {settings.SHOP_DATA_DIR} holds the demo. For a shop of your own "
                "set SHOP_DATA_DIR to another folder, or delete this one."
            )
        try:
            with (
                running_shop() as known_as,
                bound_socket(host="0.0.0.0" if lan else "127.0.0.1", port=port) as listener,  # noqa: S104 - asked for
            ):
                known_as(f"started at http://127.0.0.1:{listener.getsockname()[1]}/")
                self.bring_up_to_date(has_backup=not without_backup)
                make_first_owner()
                self.load_demo(is_empty_wanted=empty)
                self.welcome(listener, is_lan=lan)
                port = listener.getsockname()[1]
                demo.SWITCH.again = self.start_again
                serve(listener, self.channels)
        except AlreadyRunningError as error:
            raise CommandError(str(error)) from error
        if (filling := demo.SWITCH.filling) is not None:
            filling.terminate()
        if self.wanted is not None:
            options = {"--lan": lan, "--empty": self.wanted is demo.Shop.OWN}
            said = [name for name, is_said in options.items() if is_said]
            connections.close_all()  # the other shop may move this one's folder
            bootstrap.start_again(["--port", str(port), *said])

    def start_again(self, wanted: demo.Shop) -> None:
        """End the server, and start with that shop."""
        self.wanted = wanted
        self.channels.clear()

    def say(self, text: str) -> None:
        """Tell the person at the terminal, now."""
        self.stdout.write(text)
        self.stdout.flush()

    def bring_up_to_date(self, *, has_backup: bool) -> None:
        """Migrate what waits, after a backup of a shop that stands; never a newer database."""
        is_standing = has_shop()
        if is_standing and (newer := newer_migrations()):
            raise CommandError(TOO_NEW.format(names=", ".join(newer)))
        if is_standing and has_backup and waiting_migrations():
            self.say("An update of the database is waiting. Backing up first ...")
            self.back_up()
        self.say("Bringing the database up to date ...")
        call_command("migrate", interactive=False, verbosity=0)

    def back_up(self) -> None:
        """Make the backup that an update may need, and keep the last few."""
        try:
            made = make_backup(
                to=backups_folder(), at=timezone.now(), prefix=BEFORE_UPDATE, keep=UPDATES_KEPT
            )
        except BackupRefusedError as error:
            raise CommandError(
                f"{error} Without a backup the database is not updated. Mend that and start again, "
                "or go on without one: start --without-backup."
            ) from error
        self.say(f"The shop as it was before is in {made.file}.")

    def load_demo(self, *, is_empty_wanted: bool) -> None:
        """Load the made-up shop, once, where this is to be one."""
        if not settings.SHOP_IS_DEMO:
            if not (is_empty_wanted or bootstrap.DEMO.is_dir()):
                self.say("This copy has no demo (fixtures/demo is absent): the shop is empty.")
            return
        marker = bootstrap.demo_marker()
        if marker.read_text(encoding="utf-8") != "loading":
            return
        if apps.get_model("inventory", "Item").objects.exists():
            raise CommandError(
                "Loading the demo broke off halfway at an earlier start. "
                f"Delete the data folder {settings.SHOP_DATA_DIR} and start again."
            )
        if "import" not in get_commands():
            raise CommandError(
                "This copy cannot load its demo: it has no command named import. "
                "Set SHOP_DATA_DIR to another folder and start with --empty."
            )
        self.say("Filling the made-up shop, marked DEMO; this takes a while, once ...")
        call_command("import", str(bootstrap.DEMO))
        marker.write_text("loaded", encoding="utf-8")

    def welcome(self, listener: socket.socket, *, is_lan: bool) -> None:
        """Say where it is served and how to sign in."""
        port = listener.getsockname()[1]
        self.say(f"\n{settings.SHOP_NAME} is served at http://127.0.0.1:{port}/")
        if is_lan:
            names = lan_names()
            settings.ALLOWED_HOSTS += [name for name in names if name not in settings.ALLOWED_HOSTS]
            for name in names:
                self.say(f"and for this network at http://{name}:{port}/")
            self.say("Others on this network can read along, passwords too: docs/operating.md.")
        if settings.SHOP_TIME_ZONE == "UTC":
            self.say("Times are UTC until SHOP_TIME_ZONE says where the shop is.")
        password = first_password()
        if password:
            self.say(f"Sign in as {FIRST_NAME} with the password {password}")
            self.say(f"(kept in {first_sign_in_file()} until it is changed)")
        self.say("Ctrl-C ends it.")


def bound_socket(*, host: str, port: int) -> socket.socket:
    """A socket that holds the port before any long work begins.

    Raises:
        CommandError: the port cannot be had.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # Elsewhere this lets a restart follow at once; on Windows it would let two programs share.
    if os.name != "nt":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()
    except (OSError, OverflowError) as error:
        listener.close()
        if getattr(error, "errno", None) == errno.EADDRINUSE:
            raise CommandError(
                f"Port {port} is in use: the shop may be running already. "
                f"Look at http://127.0.0.1:{port}/ or start with --port {port + 1}."
            ) from error
        raise CommandError(f"Port {port} cannot be used ({error}). Try --port 8001.") from error
    return listener


def lan_names() -> list[str]:
    """Addresses and names under which other machines of the network may know this one."""
    name = socket.gethostname()
    found: list[str] = []
    # Sends nothing: it only asks the system which of its addresses would be used, if any.
    with (
        contextlib.suppress(OSError),
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe,
    ):
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):  # the name is known to nobody, not even to this machine
        found += socket.gethostbyname_ex(name)[2]
    found += [name, name if "." in name else f"{name}.local"]
    return list(dict.fromkeys(each for each in found if not each.startswith("127.")))


def first_sign_in_file() -> Path:
    """Where the first password is kept until it is changed."""
    return bootstrap.data_dir() / "first-sign-in.txt"


def new_password() -> str:
    """A random password that can be read out and typed without a mistake."""
    return "-".join(
        "".join(secrets.choice(PASSWORD_ALPHABET) for _ in range(PASSWORD_GROUP_LENGTH))
        for _ in range(PASSWORD_GROUPS)
    )


def make_first_owner() -> None:
    """Enter the first person, with a password nobody else has, where there is none."""
    if User.objects.exists() or demo.take_over_owner(timezone.now(), create_first_owner):
        return
    password = new_password()
    file = first_sign_in_file()
    file.unlink(missing_ok=True)
    # First the file: a password that is set and known to nobody would lock the shop.
    bootstrap.write_private(file, password)
    create_first_owner(
        username=FIRST_NAME, display_name="Owner", password=password, at=timezone.now()
    )


def first_password() -> str | None:
    """The first owner's password, while it is still the one that was made up."""
    file = first_sign_in_file()
    if not file.exists():
        return None
    password = file.read_text(encoding="utf-8").strip()
    owner = User.objects.filter(username=FIRST_NAME, is_active=True).first()
    if owner is not None and owner.check_password(password):
        return password
    file.unlink()
    return None


def serve(listener: socket.socket, channels: dict[int, Any]) -> None:
    """Answer requests until the process is told to stop, or `channels` are cleared.

    No signal ends it for a demo: a process in the background ignores them.
    """
    import waitress  # noqa: PLC0415 - only a server needs it

    # HTTPS ends in a proxy on this machine, which alone may say so.
    proxied: dict[str, Any] = {}
    if settings.SHOP_PRODUCTION:
        trusted = {"x-forwarded-for", "x-forwarded-proto"}
        proxied = {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": trusted}
    server = waitress.create_server(
        get_wsgi_application(),
        map=channels,
        sockets=[listener],
        threads=THREADS,
        ident=None,
        max_request_body_size=settings.SERVER_BODY_SIZE_MAX,
        **proxied,
    )
    server.run()
    server.task_dispatcher.shutdown()
