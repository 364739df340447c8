"""Personal preferences of one user on one PC, in a TOML file; the fleet's own settings are records."""

from __future__ import annotations

import os
import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

VERSION = 1
THEMES = ("light", "dark")
PAGES = ("A4", "Letter")
SCALES = (100, 125, 150, 175, 200)
LONGEST_STATION = 40
LONGEST_LOCK_MINUTES = 240


@dataclass(frozen=True, slots=True)
class Settings:
    """`text_percent` scales all text; `last_fleet` is opened again; `station` names this PC on records;
    `second_place` is a folder that backups are copied to as well, `board_folder` one that a copy of the board is
    written to while the window is open ("" for none).

    After `lock_minutes` without a key or click somebody must sign in again (0: never).
    """

    theme: str = "light"
    text_percent: int = 100
    page: str = "A4"
    last_fleet: str = ""
    station: str = ""
    lock_minutes: int = 10
    second_place: str = ""
    board_folder: str = ""


def settings_file() -> Path:
    """Where the preferences are kept."""
    return config_folder() / "settings.toml"


def config_folder() -> Path:
    """The user's folder for preferences (FLEETCARE_HOME overrides both folders)."""
    home = os.environ.get("FLEETCARE_HOME")
    if home:
        return Path(home)
    from platformdirs import user_config_path

    return user_config_path("fleetcare", appauthor=False)


def data_folder() -> Path:
    """The user's folder for fleet files and logs."""
    home = os.environ.get("FLEETCARE_HOME")
    if home:
        return Path(home)
    from platformdirs import user_data_path

    return user_data_path("fleetcare", appauthor=False)


def load(path: Path | None = None) -> Settings:
    """The preferences; a missing file gives the defaults, and a value that cannot be used is left out."""
    path = path or settings_file()
    try:
        kept = tomllib.loads(path.read_text("utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError):
        return Settings()
    allowed = {"theme": THEMES, "page": PAGES, "text_percent": SCALES}
    usable: dict[str, Any] = {}
    for name, default in asdict(Settings()).items():
        value = kept.get(name)
        if type(value) is type(default) and (name not in allowed or value in allowed[name]):
            usable[name] = value
    return Settings(**usable)


def save(settings: Settings, path: Path | None = None) -> None:
    """Write the preferences; the old file stays whole until the new one is complete."""
    path = path or settings_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [f"version = {VERSION}"]
    for name, value in asdict(settings).items():
        quoted = (
            str(value) if isinstance(value, int) else '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'
        )
        lines.append(f"{name} = {quoted}")
    fresh = path.with_suffix(".new")
    fresh.write_text("\n".join(lines) + "\n", "utf-8")
    fresh.replace(path)
