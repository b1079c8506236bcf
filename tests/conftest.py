"""What all tests share: no folder of the person who runs them is touched, sweeps run only when asked by name."""

from __future__ import annotations

import os

import pytest

from tests.skips import unexcused

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Book, settings and cache of each test lie in a folder of its own."""
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path_factory.mktemp("home")))
    monkeypatch.delenv("CLIPMARK_BOOK", raising=False)
    # books of tests need not outlast a power loss; waiting for the disk would be most of their time
    monkeypatch.setattr("clipmark.book.file.connect.SYNCHRONOUS", "OFF")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "sweep" in (config.getoption("markexpr") or ""):
        return
    skip = [item for item in items if item.get_closest_marker("sweep")]
    if skip:
        config.hook.pytest_deselected(items=skip)
        items[:] = [item for item in items if not item.get_closest_marker("sweep")]


def _skipped(config: pytest.Config) -> list[str]:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    reports = reporter.stats.get("skipped", []) if reporter else []
    return [str(report.longrepr[-1]).removeprefix("Skipped: ") for report in reports]


def pytest_sessionfinish(session: pytest.Session) -> None:
    if os.environ.get("CLIPMARK_NO_SKIPS") and unexcused(_skipped(session.config)):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if not os.environ.get("CLIPMARK_NO_SKIPS"):
        return
    reasons = _skipped(config)
    for reason in sorted(set(reasons)):
        terminalreporter.write_line(f"skipped {reasons.count(reason)}: {reason}")
    for reason in unexcused(reasons):
        terminalreporter.write_line(f"NOT ALLOWED TO BE SKIPPED HERE: {reason}. Run sh setup.sh tests.", red=True)
