"""Parts of the pack's sheet: readings to measure again, and why a projection says what it says."""

from __future__ import annotations

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import msg, say, show_moment, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.services.reasons import reasons
from fleetcare.services.shown import PackSummary
from fleetcare.services.suspects import suspects_of, to_measure_again

SUSPECTS_SHOWN = 6
_IN_SENTENCE = frozenset({"why.level_ohm", "why.level_v"})
_COLUMNS = ((0.15, "list.done"), (0.20, "suspect.reading"), (0.25, "suspect.why"), (0.27, "suspect.do"),
            (0.13, "suspect.now"))  # fmt: skip


def measure_again(flow: Flow, page_of: PackSummary) -> None:
    """Readings that do not fit and were not measured again, with a line for the new figure; nothing where all fit."""
    open_ = to_measure_again(suspects_of(page_of.pack.code, page_of.projections), page_of.as_of)
    if not open_:
        return
    flow.heading(say(msg("suspect.sheet_heading", count=len(open_))), 11, 1)
    flow.table(*((share, word(key)) for share, key in _COLUMNS))
    for one in open_[:SUSPECTS_SHOWN]:
        read = f"{word(f'quantity.{one.quantity}')} {say(one.value)} ({one.reading.meter})"
        blank = word(f"suspect.blank_{'ohm' if one.both or one.quantity == 'resistance_ohm' else 'v'}")
        told = (show_moment(one.reading.done_at), read, say(one.why), say(one.what_to_do), blank)
        flow.row(*([Text(text, 8)] for text in told))
    flow.end_table()


def why(projection: Projection, limit_source: str) -> Text:
    """The reasons behind a projection, in one small paragraph; level and slope stand in its sentence."""
    told = (say(one) for one in reasons(projection, limit_source) if one.key not in _IN_SENTENCE)
    return Text(" ".join(told), 7.5, quiet=True)
