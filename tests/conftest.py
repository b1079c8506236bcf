"""What all tests share: no folder of the person who runs them is touched, sweeps run only when asked by name."""

from __future__ import annotations

import os

import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Book, settings and cache of each test lie in a folder of its own."""
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path_factory.mktemp("home")))
    monkeypatch.delenv("CLIPMARK_BOOK", raising=False)
    # books of tests need not outlast a power loss; waiting for the disk would be most of their time
    monkeypatch.setattr("clipmark.book.connect.SYNCHRONOUS", "OFF")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "sweep" in (config.getoption("markexpr") or ""):
        return
    skip = [item for item in items if item.get_closest_marker("sweep")]
    if skip:
        config.hook.pytest_deselected(items=skip)
        items[:] = [item for item in items if not item.get_closest_marker("sweep")]
