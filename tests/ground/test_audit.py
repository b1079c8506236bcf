"""The audit of dependencies tells what is known, and never takes silence for health."""

from __future__ import annotations

import importlib.util
from pathlib import Path

SPEC = importlib.util.spec_from_file_location("audit", Path(__file__).parents[2] / ".ci" / "audit.py")
assert SPEC is not None
assert SPEC.loader is not None
audit = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(audit)


def test_a_known_vulnerability_is_told_with_the_version_that_mends_it():
    found = {"id": "PYSEC-0000-1", "fix_versions": ["1.2.4"], "aliases": [], "description": ""}
    lines, answered, mended = audit.told(
        {"dependencies": [{"name": "a", "version": "1.2.3", "vulns": [found]}, {"name": "b", "skip_reason": "x"}]}
    )

    assert "audit: KNOWN VULNERABILITY PYSEC-0000-1 in a 1.2.3, mended in 1.2.4" == lines[0]
    assert "1 packages asked about, 1 unknown to the database, 1 findings" in lines[1]
    assert answered
    assert mended


def test_what_no_version_mends_is_told_and_stops_nothing():
    found = {"id": "PYSEC-0000-2", "fix_versions": []}
    lines, _, mended = audit.told({"dependencies": [{"name": "a", "version": "1", "vulns": [found]}]})

    assert "no version mends it yet" in lines[0]
    assert not mended


def test_a_database_that_knows_no_package_counts_as_out_of_reach():
    for answer in (None, {}, {"dependencies": []}, {"dependencies": [{"name": "a", "skip_reason": "not found"}]}):
        lines, answered, _ = audit.told(answer)
        assert ["audit: not made, the database of vulnerabilities is out of reach from here"] == lines
        assert not answered


def test_the_audit_fails_only_where_strictness_is_asked_for(monkeypatch):
    found = {"id": "PYSEC-0000-1", "fix_versions": ["2"]}
    monkeypatch.setattr(audit, "installed", lambda: "a==1\n")
    for answer, strict in (
        ({"dependencies": [{"name": "a", "version": "1", "vulns": [found]}]}, 1),
        ({"dependencies": [{"name": "a", "version": "1", "vulns": []}]}, 0),
        (None, 1),
    ):
        monkeypatch.setattr(audit, "asked", lambda _, answer=answer: answer)
        assert 0 == audit.main(strict=False)
        assert strict == audit.main(strict=True)
