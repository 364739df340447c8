"""Shared fixtures: an invented depot on a fixed Monday, and no unexpected word in the log."""

from __future__ import annotations

import datetime as dt
import logging
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from hypothesis import settings as hypothesis_settings

from fleetcare.app import App
from fleetcare.settings import Settings
from tests.kestrel import Kestrel, build

pytest_plugins = ["tests.window_fixtures"]

hypothesis_settings.register_profile("everyday", max_examples=60, deadline=None)
hypothesis_settings.load_profile("everyday")


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test touches the user's own folders."""
    monkeypatch.setenv("FLEETCARE_HOME", str(tmp_path / "home"))


@pytest.fixture(autouse=True)
def silent_log(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """A warning or worse in the log fails the test."""
    yield
    loud = [r for r in caplog.get_records("call") if r.levelno >= logging.WARNING]
    assert not loud, [r.getMessage() for r in loud]


@pytest.fixture
def kestrel(tmp_path: Path) -> Iterator[Kestrel]:
    """The depot "Kestrel Wharf" on Monday 2 Nov 2026, 06:30, all 24 vehicles in date."""
    made = build(tmp_path / "kestrel.fleet")
    yield made
    made.store.close()


@pytest.fixture
def app(kestrel: Kestrel) -> App:
    """The depot as an open program would have it."""
    return App(kestrel.store, kestrel.clock, "BENCH-1", Settings())


@pytest.fixture
def monday() -> dt.datetime:
    """Monday 2 Nov 2026, 06:30 UTC."""
    return dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)
