"""One backup is one ZIP archive: the parts, and a manifest that says what each should be.

Standard library only. Nothing in an archive is taken on trust: names, sizes and digests are
compared before a byte of it is used.
"""

from __future__ import annotations

import hashlib
import json
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Final, NamedTuple

from shopfloor.backup.errors import BackupRefusedError

FORMAT: Final = 1
MANIFEST: Final = "manifest.json"
DATABASES: Final = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}
SECRET_KEY: Final = "secret-key.txt"  # noqa: S105 - the name of a part
UPLOADS: Final = "uploads/"

# What reading a ZIP can end in: RuntimeError for an encrypted entry, NotImplementedError for an
# unknown packing, ValueError and EOFError for a spoiled one.
UNREADABLE: Final = (zipfile.BadZipFile, zlib.error, EOFError, ValueError, RuntimeError)
ODD_CHARACTERS: Final = frozenset('\\:*?"<>|\0')  # Windows gives them a meaning, or none
MANIFEST_BYTES_MAX: Final = 16 * 1024 * 1024
CHUNK_BYTES: Final = 1024 * 1024
PACKING_LEVEL: Final = 3  # on a database, a fifth larger than the default and twice as fast


class Part(NamedTuple):
    """What a part should be."""

    size_bytes: int
    sha256: str


class DatabaseState(NamedTuple):
    """What a database holds, at one moment.

    Attributes:
        shop: Tells shops apart: the digest of the moment of the first recorded change, which stays
            the same wherever the shop moves; "new" before that.
        migrations: Names of the applied ones by app, sorted.
        rows: How many rows, by table.
    """

    shop: str
    migrations: dict[str, list[str]]
    rows: dict[str, int]


@dataclass(frozen=True, slots=True)
class Manifest:
    """What an archive says of itself.

    Attributes:
        made_at: RFC 3339, UTC.
        kind: "sqlite" or "postgresql".
        versions: Of Python, Django and the database.
        settings: What the shop was set to, by setting; not kept in its database.
        is_demo: Whether it is the made-up shop.
        parts: Everything in the archive but the manifest, by name.
    """

    format: int
    made_at: str
    kind: str
    versions: dict[str, str]
    settings: dict[str, str]
    is_demo: bool
    state: DatabaseState
    parts: dict[str, Part]


class ArchiveWriter:
    """Writes parts one after the other, and the manifest last."""

    def __init__(self, file: IO[bytes], *, at: datetime) -> None:
        self._zip = zipfile.ZipFile(file, "w")
        self._date_time = (at.year, at.month, at.day, at.hour, at.minute, at.second)
        self.parts: dict[str, Part] = {}

    def add(self, name: str, source: IO[bytes], *, is_packed: bool = False) -> None:
        """Add a part; what `is_packed` already is not packed again."""
        info = self._info(name, zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED)
        digest, size_bytes = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as target:
            for chunk in _chunks(source):
                digest.update(chunk)
                size_bytes += len(chunk)
                target.write(chunk)
        self.parts[name] = Part(size_bytes, digest.hexdigest())

    def finish(self, manifest: Manifest) -> None:
        """Write the manifest and the directory of the ZIP."""
        facts = asdict(manifest)
        facts["state"] = manifest.state._asdict()
        facts["parts"] = {name: part._asdict() for name, part in manifest.parts.items()}
        text = json.dumps(facts, indent=1, sort_keys=True) + "\n"
        self._zip.writestr(self._info(MANIFEST, zipfile.ZIP_DEFLATED), text)
        self._zip.close()

    def _info(self, name: str, packing: int) -> zipfile.ZipInfo:
        info = zipfile.ZipInfo(name, self._date_time)
        info.compress_type = packing
        info._compresslevel = PACKING_LEVEL  # type: ignore[attr-defined]  # public from Python 3.13
        info.external_attr = (stat.S_IFREG | 0o600) << 16
        return info


class Archive:
    """An archive whose list of contents is sound; `prove` it before its parts are used."""

    def __init__(self, opened: zipfile.ZipFile, manifest: Manifest) -> None:
        self._zip = opened
        self.manifest = manifest

    @property
    def database_part(self) -> str:
        """Name of the part that is the database."""
        return DATABASES[self.manifest.kind]

    def prove(self) -> None:
        """Read everything once and compare it with the manifest.

        Raises:
            BackupRefusedError: a part is not what it should be.
        """
        for name in self.manifest.parts:
            for _ in self._proved(name):
                pass

    def extract(self, name: str, target: IO[bytes]) -> None:
        """Write a part to a file, proving it on the way.

        Raises:
            BackupRefusedError: it is not what it should be.
        """
        for chunk in self._proved(name):
            target.write(chunk)

    def upload_names(self) -> list[str]:
        """Parts that are uploads."""
        return [name for name in self.manifest.parts if name.startswith(UPLOADS)]

    def size_bytes(self) -> int:
        """Of all parts together, unpacked."""
        return sum(part.size_bytes for part in self.manifest.parts.values())

    def _proved(self, name: str) -> Iterator[bytes]:
        part, digest, size_bytes = self.manifest.parts[name], hashlib.sha256(), 0
        try:
            with self._zip.open(name) as source:
                for chunk in _chunks(source):
                    digest.update(chunk)
                    size_bytes += len(chunk)
                    if size_bytes > part.size_bytes:
                        break
                    yield chunk
        except UNREADABLE as error:
            raise BackupRefusedError(_damaged(name)) from error
        if size_bytes != part.size_bytes or digest.hexdigest() != part.sha256:
            raise BackupRefusedError(_damaged(name))


@contextmanager
def opened_archive(path: Path) -> Iterator[Archive]:
    """Open a backup and read what it says of itself.

    Raises:
        BackupRefusedError: there is none, it is cut short, or holds what no backup holds.
    """
    try:
        opened = zipfile.ZipFile(path)
    except OSError as error:
        raise BackupRefusedError(f"{path} cannot be read: {error.strerror or error}.") from error
    except zipfile.BadZipFile as error:
        raise BackupRefusedError(
            f"{path} is not a backup, or only the beginning of one. Copy it again, or take another."
        ) from error
    with opened:
        yield Archive(opened, _sound_manifest(opened))


def _sound_manifest(opened: zipfile.ZipFile) -> Manifest:
    entries = opened.infolist()
    names = [entry.filename for entry in entries]
    if MANIFEST not in names:
        raise BackupRefusedError(f"This ZIP file is not a backup: it has no {MANIFEST}.")
    manifest = _manifest(opened)
    expected = {MANIFEST, *manifest.parts}
    if len(names) != len(expected) or set(names) != expected:
        raise BackupRefusedError(
            "What is in this backup is not what its manifest lists. Copy it again, or take another."
        )
    for entry in entries:
        _refuse_odd(entry, manifest.kind)
    if DATABASES[manifest.kind] not in manifest.parts:
        raise BackupRefusedError("This backup has no database in it. Take another.")
    return manifest


def refuse_odd_name(name: str) -> None:
    """Refuse a name that would be written elsewhere than where it says, on any system.

    Raises:
        BackupRefusedError: it is such a name.
    """
    if {"", ".", ".."} & set(name.split("/")) or set(name) & ODD_CHARACTERS:
        raise BackupRefusedError(f"{name!r} is no name for a file in a backup. Nothing was done.")


def _refuse_odd(entry: zipfile.ZipInfo, kind: str) -> None:
    name = entry.filename
    refuse_odd_name(name)
    is_known = name in {MANIFEST, SECRET_KEY, DATABASES[kind]} or name.startswith(UPLOADS)
    if not is_known or not stat.S_ISREG(entry.external_attr >> 16):
        raise BackupRefusedError(
            f"This backup holds {name!r}, which no backup of a shop holds. Do not trust it."
        )


def _manifest(opened: zipfile.ZipFile) -> Manifest:
    try:
        with opened.open(MANIFEST) as file:
            facts: Any = json.loads(file.read(MANIFEST_BYTES_MAX))
        number = facts["format"]
        if number != FORMAT:
            raise BackupRefusedError(
                f"This backup is of format {number}, and this program reads format {FORMAT}. "
                "Use the program that made it."
            )
        parts = {name: Part(**part) for name, part in facts.pop("parts").items()}
        manifest = Manifest(parts=parts, state=DatabaseState(**facts.pop("state")), **facts)
        _expect_kinds(manifest)
    except (*UNREADABLE, TypeError, KeyError, AttributeError) as error:
        raise BackupRefusedError(
            f"The {MANIFEST} of this backup cannot be read. Copy it again, or take another."
        ) from error
    return manifest


def _expect_kinds(manifest: Manifest) -> None:
    """Raise what a wrong kind of value raises, here and not where it is used."""
    DATABASES[manifest.kind]
    "".join([manifest.made_at, manifest.versions["database"], *manifest.settings.values()])
    "".join(part.sha256 for part in manifest.parts.values())
    sum(part.size_bytes for part in manifest.parts.values())
    sum(manifest.state.rows.values())


def _chunks(source: IO[bytes]) -> Iterator[bytes]:
    while chunk := source.read(CHUNK_BYTES):
        yield chunk


def _damaged(name: str) -> str:
    return (
        f"{name} in this backup is not what was put in: the file is damaged. "
        "Copy it again, or take another."
    )
