"""No words: the window.  Words: a command.  Only this module chooses between the two."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(words: Sequence[str] | None = None) -> int:
    """Run the program; returns its exit code."""
    given = list(sys.argv[1:] if words is None else words)
    if not given or given[0] == "window":
        from fleetcare.ui.launch import launch

        return launch(given[1:])
    from fleetcare.cli.commands import run
    from fleetcare.cli.deeds import OPEN_WINDOW

    code = run(given)
    if code == OPEN_WINDOW:
        from fleetcare.ui.launch import launch

        return launch(["--demo"])
    return code


if __name__ == "__main__":
    sys.exit(main())
