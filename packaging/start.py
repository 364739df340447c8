"""Set everything up and start: needs nothing but Python 3.11 or newer.

    python3 packaging/start.py          the program on the demonstration fleet
    python3 packaging/start.py test     all tests, without a screen

Makes an environment of its own in `.venv`, installs the program into it, sees to the system
libraries that Qt needs, and starts.  A second start does only what has changed.  It never touches
a fleet of your own.  Works the same on Windows and macOS (`py packaging\\start.py`), where Qt brings
all its libraries; those two were not tried.
"""

from __future__ import annotations

import ctypes.util
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent
VENV = HERE / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

# Library that Qt loads, and the Debian package that brings it.
LIBRARIES = {
    "GL": "libgl1", "EGL": "libegl1", "X11": "libx11-6", "X11-xcb": "libx11-xcb1", "xcb": "libxcb1",
    "xkbcommon": "libxkbcommon0", "dbus-1": "libdbus-1-3", "fontconfig": "libfontconfig1",
    "freetype": "libfreetype6", "glib-2.0": "libglib2.0-0",
}  # fmt: skip
SCREEN_LIBRARIES = {
    "xcb-cursor": "libxcb-cursor0", "xcb-icccm": "libxcb-icccm4", "xcb-image": "libxcb-image0",
    "xcb-keysyms": "libxcb-keysyms1", "xcb-randr": "libxcb-randr0", "xcb-render-util": "libxcb-render-util0",
    "xcb-render": "libxcb-render0", "xcb-shape": "libxcb-shape0", "xcb-shm": "libxcb-shm0",
    "xcb-sync": "libxcb-sync1", "xcb-util": "libxcb-util1", "xcb-xfixes": "libxcb-xfixes0", "xcb-xkb": "libxcb-xkb1",
    "xkbcommon-x11": "libxkbcommon-x11-0",
}  # fmt: skip


def say(line: str) -> None:
    """A line of progress."""
    print(f"[set-up] {line}", flush=True)


def give_up(what: str, do: str) -> None:
    """End with what went wrong and what to do about it."""
    print(f"[set-up] {what}\n[set-up] What to do: {do}", file=sys.stderr, flush=True)
    sys.exit(1)


def is_root() -> bool:
    """True where packages may be installed without asking."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def apt_install(packages: list[str], why: str) -> bool:
    """Install Debian packages as root; otherwise print the one line that does.  True when installed."""
    line = f"apt-get install -y --no-install-recommends {' '.join(packages)}"
    if shutil.which("apt-get") is None:
        say(f"{why}: install your system's packages for {', '.join(packages)}")
        return False
    if not is_root():
        say(f"{why}. Run this once, then start again:\n  sudo {line}")
        return False
    say(f"{why}: installing {' '.join(packages)}")
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    update = subprocess.run(["apt-get", "update", "-qq"], env=environment, check=False)
    done = subprocess.run(line.split(), env=environment, check=False, stdout=subprocess.DEVNULL)
    if update.returncode or done.returncode:
        say(f"that did not work. Run by hand: {line}")
        return False
    return True


def make_environment() -> None:
    """An environment in .venv, once."""
    if PYTHON.exists() and subprocess.run([PYTHON, "-m", "pip", "--version"], capture_output=True).returncode == 0:
        return
    say("making an environment in .venv")
    made = subprocess.run([sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True)
    if made.returncode:
        shutil.rmtree(VENV, ignore_errors=True)
        version = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"
        if apt_install([version], "Python's venv module is incomplete"):
            made = subprocess.run([sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True)
    if made.returncode:
        give_up(
            f"Python could not make an environment: {(made.stderr or made.stdout).strip()[-300:]}",
            "install Python's venv module (Debian and Ubuntu: apt-get install python3-venv) and start again.",
        )


def install(extra: str) -> None:
    """Install the program with its libraries; skipped while pyproject.toml is unchanged."""
    stamp = VENV / f"installed{extra}.stamp"
    wanted = hashlib.sha256((HERE / "pyproject.toml").read_bytes()).hexdigest()
    if stamp.exists() and stamp.read_text() == wanted:
        return
    say("installing the program and its libraries (a few minutes the first time)")
    command = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "-q", "-e", f"{HERE}{extra}"]
    if subprocess.run(command, cwd=HERE, check=False).returncode:
        give_up(
            "pip could not install the libraries (its own words are above).",
            "check the network connection and the free disk space (1.5 GB are needed), then start again.",
        )
    stamp.write_text(wanted)


def missing(libraries: dict[str, str]) -> list[str]:
    """Debian packages of those libraries that are not on this machine."""
    return [package for name, package in libraries.items() if ctypes.util.find_library(name) is None]


def see_to_libraries(*, screen: bool) -> bool:
    """See that Qt can load; True when it can."""
    if not sys.platform.startswith("linux"):
        return True
    wanted = missing(LIBRARIES) + (missing(SCREEN_LIBRARIES) if screen else [])
    if wanted:
        apt_install(wanted, "Qt needs system libraries that are not here")
    probe = [
        str(PYTHON), "-c",
        "from PySide6.QtWidgets import QApplication; QApplication([])",
    ]  # fmt: skip
    platform = "xcb" if screen and os.environ.get("DISPLAY") else "offscreen"
    tried = subprocess.run(probe, env=os.environ | {"QT_QPA_PLATFORM": platform}, capture_output=True, text=True)
    if tried.returncode:
        say(f"Qt cannot start ({platform}): {tried.stderr.strip()[-400:]}")
        return False
    return True


def has_display() -> bool:
    """True where a window can be shown."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def start_demo(words: list[str]) -> int:
    """Open the demonstration in a window, or do the same job without one."""
    make_environment()
    install("")
    screen = has_display() and "--headless" not in words
    if screen and not see_to_libraries(screen=True):
        give_up(
            "the window cannot open.", "install the libraries named above, or add --headless to do without a window."
        )
    command = [str(PYTHON), "-m", "fleetcare", "demo", *words]
    if not screen and "--headless" not in words:
        say("no display here: doing the same job without a window")
    return subprocess.run(command, cwd=HERE, check=False).returncode


def run_tests(words: list[str]) -> int:
    """All tests, headless."""
    make_environment()
    install("[test]")
    if not see_to_libraries(screen=False):
        give_up("Qt cannot start, so the window tests cannot run.", "install the libraries named above.")
    if sys.platform.startswith("linux") and shutil.which("pdftoppm") is None:
        apt_install(["poppler-utils"], "the tests read PDFs with an independent tool")
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen"}
    return subprocess.run([str(PYTHON), "-m", "pytest", *words], cwd=HERE, env=environment, check=False).returncode


def main() -> int:
    """Read the words and start."""
    if sys.version_info < (3, 11):  # noqa: UP036
        version = sys.version.split()[0]
        give_up(
            f"this is Python {version}; 3.11 or newer is needed.",
            "install a newer Python and start this file with it, for example: python3.12 packaging/start.py",
        )
    words = sys.argv[1:]
    if words[:1] == ["test"]:
        return run_tests(words[1:])
    return start_demo(words)


if __name__ == "__main__":
    sys.exit(main())
