"""The one place that knows where the shipped files are: beside the source, or inside the install."""

from __future__ import annotations

import sys
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped(folder: str) -> Path:
    """The folder `folder` ("resources" or "demo_fleet") as shipped; FileNotFoundError when missing."""
    places = (
        _PACKAGE.parent / folder,
        _PACKAGE / "shipped" / folder,
        Path(sys.prefix) / "share" / "fleetcare" / folder,
    )
    for place in places:
        if place.is_dir():
            return place
    raise FileNotFoundError(f"{folder} is not part of this installation; looked in {', '.join(map(str, places))}")


def font_file(name: str) -> Path:
    """A shipped font, by file name."""
    return shipped("resources") / "fonts" / name
