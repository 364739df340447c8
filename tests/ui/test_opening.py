"""A paper is opened without a word on the terminal; where nothing can open it, that is known."""

import sys
import time
from pathlib import Path

import pytest

from fleetcare.ui.papers.opening import opened

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the desktop's opener is another one here")


def test_a_noisy_opener_is_not_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    asked = tmp_path / "asked"
    opener = tmp_path / "xdg-open"
    opener.write_text(
        f'#!/bin/sh\necho no viewer\necho no viewer >&2\necho "$1" > "{asked}.new"\nmv "{asked}.new" "{asked}"\n'
    )
    opener.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    assert opened(tmp_path / "van 1.pdf")
    for _ in range(200):
        if asked.exists():
            break
        time.sleep(0.05)
    assert asked.read_text().strip() == str(tmp_path / "van 1.pdf")
    heard = capfd.readouterr()
    assert (heard.out, heard.err) == ("", "")


def test_without_an_opener_it_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert not opened(tmp_path / "van.pdf")
