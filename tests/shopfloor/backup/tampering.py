"""Backups that are not what `manage.py backup` writes."""

from __future__ import annotations

import hashlib
import json
import stat
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

MANIFEST = "manifest.json"


def rewritten(
    good: Path,
    target: Path,
    *,
    parts: Mapping[str, bytes | None] = {},
    manifest: Callable[[Any], None] = lambda facts: None,
    is_listed: bool = True,
    link: str = "",
) -> Path:
    """Write a backup again, changed.

    Args:
        good: A sound one.
        target: The new file.
        parts: Other contents by name; None leaves a part out of the ZIP.
        manifest: Changes the facts of the manifest.
        is_listed: Whether the manifest is made to agree with `parts`.
        link: A part of this name is a symbolic link.
    """
    with zipfile.ZipFile(good) as opened:
        contents: dict[str, bytes | None] = {n: opened.read(n) for n in opened.namelist()}
    facts = json.loads(contents.pop(MANIFEST) or b"")
    contents |= parts
    if is_listed:
        for name, data in parts.items():
            facts["parts"].pop(name, None)
            if data is not None:
                digest = hashlib.sha256(data).hexdigest()
                facts["parts"][name] = {"size_bytes": len(data), "sha256": digest}
    manifest(facts)
    contents[MANIFEST] = json.dumps(facts).encode()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as writer:
        for name, data in contents.items():
            if data is not None:
                info = zipfile.ZipInfo(name)
                kind = stat.S_IFLNK if name == link else stat.S_IFREG
                info.external_attr = (kind | 0o600) << 16
                writer.writestr(info, data)
    return target
