"""Short papers set so that no page is wasted: smaller letters, or a layout that shows less, where that saves the last page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import TypeVar

from fleetcare.reports.flow import Flow, TooLong
from fleetcare.reports.page import Running

_Layout = TypeVar("_Layout")
NEXT_TO_NOTHING = 0.35
"""Share of a last page below which a paper is better off without it."""
SCALES = (0.97, 0.94, 0.91)


def fitted(
    path: Path, running: Running, *, page: str, most: int, layouts: Sequence[tuple[float, _Layout]],
    put: Callable[[Flow, _Layout], None],
) -> int:  # fmt: skip
    """Write a short paper with the first of `layouts` that needs no more than `most` pages, else with the last.

    A layout is the scale of the letters and what `put(flow, layout)` makes of the rest; returns the number of pages.
    """
    for scale, layout in layouts[:-1]:
        trial = Flow(BytesIO(), running, page=page, scale=scale, most=most)
        with suppress(TooLong):
            put(trial, layout)
            trial.end()
            return _once(path, running, page, scale, lambda flow, chosen=layout: put(flow, chosen))[0]  # type: ignore[misc]
    scale, last = layouts[-1]
    return _once(path, running, page, scale, lambda flow: put(flow, last))[0]


def settled(path: Path, running: Running, *, page: str, put: Callable[[Flow], None]) -> int:
    """Write a short paper; where its last page would hold next to nothing, in letters so much smaller that it goes.

    Returns the number of pages.
    """
    pages, filled = _once(path, running, page, 1, put)
    if pages > 1 and filled < NEXT_TO_NOTHING:
        for scale in SCALES:
            trial = Flow(BytesIO(), running, page=page, scale=scale, most=pages - 1)
            with suppress(TooLong):
                put(trial)
                trial.end()
                return _once(path, running, page, scale, put)[0]
        _once(path, running, page, 1, put)
    return pages


def _once(path: Path, running: Running, page: str, scale: float, put: Callable[[Flow], None]) -> tuple[int, float]:
    """Number of pages, and which share of the last one is filled."""
    with path.open("wb") as file:
        flow = Flow(file, running, page=page, scale=scale)
        put(flow)
        filled = flow.filled
        return flow.finish(), filled
