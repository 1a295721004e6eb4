"""`manage.py backup`: whole while people work, for its owner's eyes, and none when it fails."""

from __future__ import annotations

import json
import os
import resource
import sqlite3
import stat
import subprocess
import sys
import time
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.places import newest_backup, prune, refuse_too_little_space, working_folder
from tests.faults.shops import ROOT, Shop
from tests.shopfloor.backup.conftest import backed_up, change, contents, manage

# Counts the adhesive again and again, a gram less each time, and says so when each is answered.
WRITER = """
import django; django.setup()
from itertools import count
from django.utils import timezone
from inventory.stock.models import Lot
from inventory.stock.operations import Found, count_lots
from shopfloor.models import User
from shopfloor.stamp import Stamp
lot, owner = Lot.objects.get(item__code="ADHESIVE"), User.objects.get(role="owner")
for number in count(1):
    now = timezone.now()
    stamp = Stamp(by=owner, at=now, now=now, reason="a gram less")
    count_lots(found=[Found(lot.code, lot.on_hand_base - number * 1000)], stamp=stamp)
    print(number, flush=True)
"""


def counted(shop: Shop) -> int:
    return len(contents(shop)["inventory_count"])


def test_what_is_restored_is_what_was_backed_up(
    other_shop: Shop, bare_shop: Shop, tmp_path: Path
) -> None:
    (other_shop.folder / "uploads" / "sheets").mkdir(parents=True)
    (other_shop.folder / "uploads" / "sheets" / "safety.pdf").write_bytes(b"a safety data sheet")
    change(other_shop, "INSERT INTO django_session VALUES ('stolen', '', '2099-01-01')")
    file = backed_up(other_shop, tmp_path / "backups")
    restored = manage(bare_shop, "restore", file, SHOP_TIME_ZONE="UTC")

    assert restored.code == 0, restored.said
    assert "Everything that can be computed twice comes out the same." in restored.said
    assert "SHOP_TIME_ZONE was 'America/Chicago' where the backup was made" in restored.said
    assert contents(bare_shop) == contents(other_shop)
    assert (bare_shop.folder / "uploads" / "sheets" / "safety.pdf").read_bytes() == (
        b"a safety data sheet"
    )
    assert "stolen" not in manage(bare_shop, "dumpdata", "sessions").said
    assert manage(bare_shop, "verify").code == 0


def test_a_backup_is_for_its_owners_eyes_and_says_what_is_in_it(
    furnished: Shop, good_backup: Path
) -> None:
    assert stat.S_IMODE(good_backup.stat().st_mode) == 0o600
    with zipfile.ZipFile(good_backup) as opened:
        manifest = json.loads(opened.read("manifest.json"))
        assert not [name for name in opened.namelist() if "secret" in name]
    rows = {table: len(found) for table, found in contents(furnished).items()}
    told = manifest["state"]["rows"]
    assert {table: told[table] for table in rows} == rows
    assert manifest["state"]["migrations"]["batches"][0] == "0001_initial"
    assert [path.name for path in good_backup.parent.iterdir()] == [good_backup.name]


def test_the_secret_key_goes_in_when_it_is_asked_for_and_in_a_file(
    other_shop: Shop, bare_shop: Shop, tmp_path: Path
) -> None:
    key = other_shop.folder / "secret-key.txt"
    refused = manage(other_shop, "backup", tmp_path / "b", "--with-secret-key")
    assert "the secret key is in SHOP_SECRET_KEY" in refused.said
    key.write_text("the very key", encoding="utf-8")
    file = backed_up(other_shop, tmp_path / "b", "--with-secret-key")
    assert manage(bare_shop, "restore", file).code == 0
    assert (bare_shop.folder / "secret-key.txt").read_text(encoding="utf-8") == "the very key"


def test_a_shop_is_backed_up_whole_while_somebody_posts(
    other_shop: Shop, bare_shop: Shop, tmp_path: Path
) -> None:
    writer = subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-c", WRITER],
        cwd=ROOT,
        env=other_shop.environment,
        stdout=subprocess.PIPE,
        text=True,
    )
    with writer:
        assert writer.stdout is not None
        try:
            answered = [writer.stdout.readline() for _ in range(5)]
            file = backed_up(other_shop, tmp_path / "during")
            at_end = counted(other_shop)
        finally:
            writer.kill()
    assert answered[-1] == "5\n"
    restored = manage(bare_shop, "restore", file)
    assert restored.code == 0, restored.said
    assert 5 <= counted(bare_shop) <= at_end
    assert at_end > 5, "nothing was posted meanwhile"


def test_a_backup_that_cannot_be_written_leaves_nothing(furnished: Shop, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    run = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "manage.py", "backup", str(folder)],
        cwd=ROOT,
        env=furnished.environment,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000)),
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1
    assert "No backup was made: " in run.stderr
    assert list(folder.iterdir()) == []


@pytest.mark.only_on("sqlite")
def test_a_damaged_database_is_not_backed_up_and_the_older_backups_stay(
    other_shop: Shop, tmp_path: Path
) -> None:
    file = other_shop.folder / "shop.sqlite3"
    with closing(sqlite3.connect(file)) as opened:
        opened.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (page,) = opened.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'inventory_lot'"
        ).fetchone()
        (size,) = opened.execute("PRAGMA page_size").fetchone()
    older = backed_up(other_shop, tmp_path)
    with file.open("r+b") as opened_file:
        opened_file.seek((page - 1) * size)
        opened_file.write(b"\xff" * size)
    answer = manage(other_shop, "backup", tmp_path, "--keep", "1")
    assert answer.code == 1
    assert "The database of this shop is damaged" in answer.said
    assert list(tmp_path.glob("*.zip")) == [older]


def test_a_name_that_is_taken_is_not_written_over(furnished: Shop, tmp_path: Path) -> None:
    file = tmp_path / "mine.zip"
    assert manage(furnished, "backup", file).code == 0
    kept = file.read_bytes()
    answer = manage(furnished, "backup", file)
    assert (answer.code, "exists already. Choose another name" in answer.said) == (1, True)
    assert file.read_bytes() == kept


def test_only_the_newest_of_this_shop_are_kept(tmp_path: Path) -> None:
    names = [f"backup-0a1b2c3d-2026110{day}T031500Z.zip" for day in range(1, 6)]
    others = ["backup-ffffffff-20200101T000000Z.zip", "before-update-0a1b2c3d-20200101T000000Z.zip"]
    others += ["backup-0a1b2c3d-20200101T000000Z kept.zip", "photo.jpg"]
    for name in names + others:
        (tmp_path / name).touch()
    gone = prune(tmp_path, prefix="backup", shop="0a1b2c3d", keep=2)
    assert [path.name for path in gone] == names[:3]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names[3:] + others)


def test_the_newest_of_a_folder_is_the_one_made_last_because_it_was_asked_for(
    tmp_path: Path,
) -> None:
    with pytest.raises(BackupRefusedError, match="There is no backup in"):
        newest_backup(tmp_path)
    for name in (
        "backup-ffffffff-20261101T031500Z.zip",
        "backup-0a1b2c3d-20261102T031500Z.zip",
        "before-update-0a1b2c3d-20261103T000000Z.zip",
        "photo.jpg",
    ):
        (tmp_path / name).touch()
    assert newest_backup(tmp_path).name == "backup-0a1b2c3d-20261102T031500Z.zip"


def test_keeping_one_deletes_the_older_ones_after_the_new_one_is_made(
    furnished: Shop, tmp_path: Path
) -> None:
    first = backed_up(furnished, tmp_path)
    time.sleep(1.1)  # a name has seconds
    second = backed_up(furnished, tmp_path, "--keep", "1")
    assert second != first
    assert list(tmp_path.iterdir()) == [second]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--keep", "0"], "--keep is 1 or more"),
        (["--keep", "2", "x.zip"], "not for one named file"),
        (["--check", "x.zip", "--keep", "2"], "--check stands alone"),
    ],
)
def test_options_that_contradict_are_refused(
    options: list[str], said: str, furnished: Shop, tmp_path: Path
) -> None:
    where = [str(tmp_path / each) if each == "x.zip" else each for each in options]
    answer = manage(furnished, "backup", *where)
    assert (answer.code, said in answer.said) == (1, True)
    assert list(tmp_path.iterdir()) == []


def test_too_little_room_is_said_before_anything_is_written(tmp_path: Path) -> None:
    refuse_too_little_space(tmp_path, needed_bytes=1)
    with pytest.raises(BackupRefusedError, match=r"too little room in .* MB are free"):
        refuse_too_little_space(tmp_path, needed_bytes=10**18)


def test_what_a_power_cut_left_half_made_goes_a_day_later(tmp_path: Path) -> None:
    left, recent = tmp_path / "unfinished-old", tmp_path / "unfinished-new"
    for folder in (left, recent):
        folder.mkdir()
    os.utime(left, (time.time() - 90_000,) * 2)
    with working_folder(tmp_path) as work:
        assert sorted(tmp_path.iterdir()) == sorted([recent, work])
    assert list(tmp_path.iterdir()) == [recent]


def test_two_shops_are_told_apart_and_one_is_known_again(
    other_shop: Shop, migrated_shop: Shop, good_backup: Path, tmp_path: Path
) -> None:
    others = [backed_up(other_shop, tmp_path / "a"), backed_up(migrated_shop, tmp_path / "b")]
    files = [good_backup, *others]
    first, again, another = (file.name.split("-")[1] for file in files)
    assert first == again
    assert (len(first), another) == (8, "new")
