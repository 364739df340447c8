"""The set-up script: plain Python, a sentence for every failure, no package installed for a person who is not root."""

import ast
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

PATH = Path(__file__).parents[1] / "packaging" / "start.py"


@pytest.fixture
def start() -> ModuleType:
    spec = importlib.util.spec_from_file_location("start", PATH)
    assert spec is not None and spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def test_it_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse(PATH.read_text("utf-8"))
    names = {
        alias.name.split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names
    }
    names |= {(node.module or "").split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert names <= set(sys.stdlib_module_names)


def test_without_root_it_prints_the_one_line_that_installs(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(start, "is_root", lambda: False)
    monkeypatch.setattr(start.shutil, "which", lambda _name: "/usr/bin/apt-get")
    monkeypatch.setattr(start.subprocess, "run", lambda *_a, **_k: pytest.fail("nothing may be run"))
    assert start.apt_install(["libegl1", "libgl1"], "Qt needs system libraries") is False
    assert "sudo apt-get install -y --no-install-recommends libegl1 libgl1" in capsys.readouterr().out


def test_an_old_python_is_told_what_to_do(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(start.sys, "version_info", (3, 9, 2))
    with pytest.raises(SystemExit) as stopped:
        start.main()
    assert stopped.value.code == 1 and "3.11 or newer" in capsys.readouterr().err


def test_a_missing_library_is_named_by_its_package(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start.ctypes.util, "find_library", lambda name: None if name == "EGL" else name)
    assert start.missing(start.LIBRARIES) == ["libegl1"]


def test_no_display_means_no_window(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setattr(start.sys, "platform", "linux")
    assert start.has_display() is False
    monkeypatch.setattr(start.sys, "platform", "darwin")
    assert start.has_display() is True
