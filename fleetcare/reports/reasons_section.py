"""Parts of the pack's sheet: readings to measure again, and why a projection says what it says."""

from __future__ import annotations

from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.reports.text import FONT, para
from fleetcare.services.reasons import reasons
from fleetcare.services.shown import PackSummary
from fleetcare.services.suspects import suspects_of, to_measure_again

SUSPECTS_SHOWN = 6
_IN_SENTENCE = frozenset({"why.level_ohm", "why.level_v", "why.limit_ohm", "why.limit_v"})


def measure_again(page_of: PackSummary, width: float) -> list[Any]:
    """Readings that do not fit and were not measured again, with a line for the new figure; nothing where all fit."""
    open_ = to_measure_again(suspects_of(page_of.pack.code, page_of.projections), page_of.as_of)
    if not open_:
        return []
    rows = [[para(word(key), 8, bold=True) for key in ("list.done", "suspect.reading", "suspect.why", "suspect.do")]]
    rows[0].append(para(word("suspect.now"), 8, bold=True))
    for one in open_[:SUSPECTS_SHOWN]:
        read = f"{word(f'quantity.{one.quantity}')} {say(one.value)} ({one.reading.meter})"
        rows.append(
            [para(show_moment(one.reading.done_at), 8), para(read, 8), para(say(one.why), 8),
             para(say(one.what_to_do), 8), para(word(f"suspect.blank_{'ohm' if one.quantity == 'resistance_ohm' else 'v'}"), 8)]
        )  # fmt: skip
    table = Table(rows, colWidths=[width * f for f in (0.15, 0.20, 0.25, 0.27, 0.13)], repeatRows=1, splitInRow=1)
    rule = Color(0.6, 0.6, 0.6)
    table.setStyle(
        TableStyle([FONT, ("LINEBELOW", (0, 0), (-1, -1), 0.4, rule), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                    ("BACKGROUND", (0, 0), (-1, 0), Color(0.93, 0.93, 0.93)), ("TOPPADDING", (0, 0), (-1, -1), 2),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 3), ("LEFTPADDING", (0, 0), (-1, -1), 3),
                    ("RIGHTPADDING", (0, 0), (-1, -1), 3)])
    )  # fmt: skip
    heading = para(say(msg("suspect.sheet_heading", count=len(open_))), 11, bold=True, after=3)
    return [KeepTogether([Spacer(1, 9), heading, table])]


def why(projection: Projection) -> Any:
    """The reasons behind a projection, in one small paragraph; level, slope and limit stand in its sentence."""
    return para(" ".join(say(one) for one in reasons(projection) if one.key not in _IN_SENTENCE), 7.5, after=2)
