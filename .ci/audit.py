#!/usr/bin/env python3
"""Known vulnerabilities of the packages in requirements/run.txt; fails when one is found.

Asks the services that pip-audit knows, one after the other, until one has answered. Where none can
be reached nothing is known: that is said aloud and fails nothing, so that a machine without the
internet can run the rest.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
SERVICES = ("pypi", "osv")
SECONDS = 25  # for each


def report_of(service: str) -> list[dict[str, Any]]:
    """What a service says of each package; nothing when it cannot be reached."""
    program = [str(Path(sys.executable).parent / "pip-audit"), "--service", service]
    lock = ["--requirement", "requirements/run.txt", "--no-deps", "--disable-pip"]
    shown = ["--format", "json", "--progress-spinner", "off", "--timeout", "10"]
    try:
        done = subprocess.run(
            [*program, *lock, *shown],
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=SECONDS,
            check=False,
        )
        packages: list[dict[str, Any]] = json.loads(done.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError):
        return []
    return packages


def verdict(packages: list[dict[str, Any]]) -> int | None:
    """0 when all is well, 1 when something was found; `None` when nothing was looked at."""
    looked_at = [package for package in packages if "vulns" in package]
    if not looked_at:
        return None
    for package in packages:
        if "vulns" not in package:
            print(f"Not looked at: {package['name']}.")
    found = [(package, known) for package in looked_at for known in package["vulns"]]
    for package, known in found:
        mended = ", ".join(known["fix_versions"]) or "no version yet"
        print(f"{package['name']} {package['version']}: {known['id']}, mended in {mended}.")
    print(f"{len(looked_at)} packages looked at, {len(found)} vulnerabilities known.")
    return 1 if found else 0


def main() -> int:
    """Ask until somebody answers."""
    for service in SERVICES:
        answer = verdict(report_of(service))
        if answer is not None:
            return answer
    print("NOT AUDITED: no vulnerability service can be reached from here. Run this step again")
    print("on a machine with internet: .venv/bin/python .ci/audit.py")
    return 0


if __name__ == "__main__":
    sys.exit(main())
