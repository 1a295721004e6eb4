"""The build's look for known vulnerabilities: what fails it, what does not."""

from __future__ import annotations

from importlib.util import module_from_spec, spec_from_file_location
from typing import Any

import pytest

from shopfloor.bootstrap import ROOT

SOUND = {"name": "a", "version": "1", "vulns": []}
KNOWN = {"id": "X-1", "fix_versions": ["2"]}
FAULTY = {"name": "b", "version": "1", "vulns": [KNOWN]}
SKIPPED = {"name": "c", "skip_reason": "not found"}


@pytest.fixture(scope="module")
def audit() -> Any:
    spec = spec_from_file_location("audit", ROOT / ".ci" / "audit.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("packages", "verdict", "said"),
    [
        ([SOUND], 0, "1 packages looked at, 0 vulnerabilities known."),
        ([SOUND, SKIPPED], 0, "Not looked at: c."),
        ([SOUND, FAULTY], 1, "b 1: X-1, mended in 2."),
        ([SKIPPED, SKIPPED], None, ""),
        ([], None, ""),
    ],
)
def test_a_finding_fails_and_not_having_looked_is_no_pass(
    audit: Any,
    capsys: pytest.CaptureFixture[str],
    packages: list[Any],
    verdict: int | None,
    said: str,
) -> None:
    assert audit.verdict(packages) == verdict
    assert said in capsys.readouterr().out


def test_where_nobody_can_be_asked_it_says_so_aloud_and_goes_on(
    audit: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(audit, "SERVICES", ())
    assert audit.main() == 0
    assert "NOT AUDITED" in capsys.readouterr().out
