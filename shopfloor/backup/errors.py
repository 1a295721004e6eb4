"""What a backup or a restore is refused with."""

from __future__ import annotations


class BackupRefusedError(Exception):
    """Nothing was made or changed, unless the message says so; it says what to do."""
