"""The board as one HTML file for those who look from elsewhere: read-only, self-contained, and honest about its age.

Nothing is fetched: style, script and shapes are in the file, and its own policy forbids everything else.  Every text
is escaped.  The age is worked out in the reader's browser, so that a copy that nobody renews turns grey by itself;
where scripts are off a sentence says from when on it is not to be relied on.
"""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import os
from html import escape
from pathlib import Path

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import apart, listed, msg, say, show_moment, show_since, word
from fleetcare.reports.shapes import shape_of
from fleetcare.services.shown import FleetSummary, VehicleSummary

FILE_NAME = "board.html"
REFRESH_S = 60

_SHAPES = {
    "circle": '<circle cx="8" cy="8" r="7"/>',
    "ring": '<circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    "square": '<path d="M1 1h14v14H1z"/>',
    "diamond": '<path d="M8 0l8 8-8 8-8-8z"/>',
    "triangle": '<path d="M8 0l8 15H0z"/>',
    "cross": '<path d="M3 0l5 5 5-5 3 3-5 5 5 5-3 3-5-5-5 5-3-3 5-5-5-5z"/>',
}
_STYLE = """
:root { --ground: #ffffff; --ink: #1c2321; --quiet: #4d5652; --line: #8b948f; }
* { box-sizing: border-box; }
body { margin: 1rem auto; max-width: 90rem; padding: 0 1rem; background: var(--ground); color: var(--ink);
  font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0 0 .25rem; }
h2 { font-size: 1.2rem; margin: 1.25rem 0 .5rem; }
#age { font-size: 1.5rem; font-weight: bold; margin: .25rem 0; }
.demo { border: 2px solid; border-radius: .25rem; padding: 0 .5rem; }
.counts { display: flex; flex-wrap: wrap; gap: .5rem; padding: 0; margin: .5rem 0; list-style: none; }
.state { display: inline-flex; align-items: center; gap: .4rem; padding: .15rem .6rem; border-radius: .25rem;
  font-weight: bold; white-space: nowrap; }
.state svg { width: .9em; height: .9em; fill: currentColor; flex: none; }
.good { background: #1a7038; color: #ffffff; } .action { background: #0b57b0; color: #ffffff; }
.caution, .fault { background: #f2c53d; color: #1c1a10; } .danger { background: #b3261e; color: #ffffff; }
.unknown, .stale .state { background: #656d69; color: #ffffff; }
table { border-collapse: collapse; width: 100%; }
caption { text-align: left; padding: .25rem .5rem; color: var(--quiet); }
th, td { text-align: left; vertical-align: top; padding: .35rem .5rem; border-bottom: 1px solid var(--line); }
td.code, th[scope=row] { font-size: 1.15rem; font-weight: bold; white-space: nowrap; }
ul { margin: 0; padding-left: 1.1rem; }
.ready { display: grid; grid-template-columns: repeat(auto-fill, minmax(9.5rem, 1fr)); gap: .35rem; list-style: none; padding: 0; }
footer { color: var(--quiet); margin-top: 1.5rem; font-size: .9rem; }
.was { display: none; } .stale .was { display: inline; }
@media print { .state { background: none; color: #000; border: 1px solid #000; } }
"""
_SCRIPT = """
(function () {
  var age = document.getElementById("age"), at = Date.parse(age.dataset.at), limit = Number(age.dataset.stale);
  function look() {
    var minutes = Math.floor((Date.now() - at) / 60000), old = minutes > limit || minutes < -2;
    document.body.classList.toggle("stale", old);
    age.textContent = age.dataset.told + (old ? " · " + age.dataset.old.replace("#", Math.max(minutes, 0)) : "");
  }
  look();
  setInterval(look, 10000);
})();
"""


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def write(fleet: FleetSummary, folder: Path, *, made_at: dt.datetime) -> Path:
    """Write the page into `folder`; the old one stays whole until the new one is complete.  Returns its path."""
    path = folder / FILE_NAME
    fresh = folder / f".{FILE_NAME}.new"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        fresh.write_text(page(fleet, made_at=made_at), "utf-8")
        os.replace(fresh, path)
    except OSError as error:
        raise FileRefused("paper.not_written", path=str(path), why=str(error.strerror or error)) from error
    return path


def page(fleet: FleetSummary, *, made_at: dt.datetime) -> str:
    """The whole page as text."""
    title = say(msg("board.second_title", fleet=fleet.fleet_name))
    policy = f"default-src 'none'; style-src '{_hash(_STYLE)}'; script-src '{_hash(_SCRIPT)}'; base-uri 'none'; form-action 'none'"
    return "\n".join([
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        f'<meta http-equiv="refresh" content="{REFRESH_S}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="robots" content="noindex">',
        f"<title>{escape(title)}</title>",
        f"<style>{_STYLE}</style>",
        "</head>",
        "<body>",
        *_head(fleet, title),
        "<main>",
        *_not_ready(fleet),
        *_ready(fleet),
        "</main>",
        *_foot(fleet, made_at),
        f"<script>{_SCRIPT}</script>",
        "</body>",
        "</html>",
        "",
    ])  # fmt: skip


def _badge(kind: str, shape: str, text: str) -> str:
    was = f'<span class="was">{escape(word("board.was_word"))} </span>'
    return (
        f'<span class="state {kind}"><svg viewBox="0 0 16 16" aria-hidden="true">{_SHAPES[shape]}</svg>'
        f"<span>{was}{escape(text)}</span></span>"
    )


_KIND_OF_SHAPE = {
    "circle": "good", "diamond": "action", "triangle": "caution", "square": "fault", "cross": "danger", "ring": "unknown",
}  # fmt: skip
_SHAPE_OF_STATE = {
    BoardState.READY: "circle", BoardState.READY_BUT_DUE: "diamond", BoardState.LIMITED: "triangle", BoardState.GROUNDED: "square",
}  # fmt: skip


def _state(line: VehicleSummary) -> str:
    shape = shape_of(line.status)
    return _badge(_KIND_OF_SHAPE[shape], shape, word(f"board_state.{line.status.state.value}"))


def _head(fleet: FleetSummary, title: str) -> list[str]:
    demo = f' <span class="demo">{escape(word("program.demo"))}</span>' if fleet.demo else ""
    told = say(msg("window.as_of", at_time=show_moment(fleet.as_of)))
    old = say(msg("board.copy_old"))
    limit = fleet.stale_after_minutes
    counts = [
        f"<li>{_badge(_KIND_OF_SHAPE[shape], shape, f'{fleet.counts[state]} ' + word(f'board_state.{state.value}'))}</li>"
        for state, shape in _SHAPE_OF_STATE.items()
    ]
    return [
        "<header>",
        f"<h1>{escape(title)}{demo}</h1>",
        f'<p id="age" role="status" data-at="{escape(fleet.as_of.isoformat())}" data-stale="{limit}"'
        f' data-told="{escape(told)}" data-old="{escape(old)}">{escape(told)}</p>',
        f"<noscript><p>{escape(say(msg('board.copy_noscript', limit_minutes=limit)))}</p></noscript>",
        f"<p>{escape(say(msg('screen.counts_are', total_vehicles=len(fleet.vehicles))))}</p>",
        '<ul class="counts">',
        *counts,
        "</ul>",
        *([] if fleet.away_told is None else [f"<p>{escape(say(fleet.away_told))}</p>"]),
        "</header>",
    ]


def _not_ready(fleet: FleetSummary) -> list[str]:
    lines = [line for line in fleet.vehicles if line.status.state is not BoardState.READY]
    if not lines:
        return []
    heads = ("list.vehicle", "list.state", "list.reason", "list.since", "list.next", "list.clears", "list.offers")
    parts = [f"<h2>{escape(word('board.copy_not_ready'))}</h2>", "<table>",
             f"<caption>{escape(word('board.copy_caption'))}</caption>", "<thead><tr>"]  # fmt: skip
    parts += [f'<th scope="col">{escape(word(key))}</th>' for key in heads]
    parts.append("</tr></thead><tbody>")
    for line in lines:
        lead = line.status.reasons[0] if line.status.reasons else None
        reasons = "".join(
            f"<li>{escape(word(f'hold_class.{one.hold_class.value}'))}: {escape(say(one.text))}</li>"
            for one in line.status.reasons
        )
        since = show_since(lead.since, year=True) if lead and lead.since else "—"
        proposed = [offer for offer in line.offers if offer.proposed] or list(line.offers[:1])
        cells = (
            f"<ul>{reasons}</ul>" if reasons else "—", escape(since), escape(say(lead.next_step)) if lead else "—",
            escape(listed(line.may_clear) or "—"),
            escape(", ".join(f"{o.pack} ({apart(o.shelf)})" for o in proposed) or (say(line.no_offer) if line.no_offer else "—")),
        )  # fmt: skip
        parts.append(f'<tr><th scope="row">{escape(line.vehicle.code)}</th><td>{_state(line)}</td>')
        parts += [f"<td>{cell}</td>" for cell in cells]
        parts.append("</tr>")
    return [*parts, "</tbody></table>"]


def _ready(fleet: FleetSummary) -> list[str]:
    lines = [line for line in fleet.vehicles if line.status.state is BoardState.READY]
    if not lines:
        return []
    heading = word("board_state.ready").capitalize()
    items = [f"<li>{_badge('good', 'circle', line.vehicle.code)}</li>" for line in lines]
    return [f"<h2>{escape(heading)}</h2>", '<ul class="ready">', *items, "</ul>"]


def _foot(fleet: FleetSummary, made_at: dt.datetime) -> list[str]:
    fingerprint = say(msg("paper.fingerprint", fingerprint=Head(fleet.position, fleet.fingerprint).short))
    return [
        "<footer>",
        f"<p><strong>{escape(word('safety.fire_line'))}</strong> {escape(word('safety.fire_source'))}</p>",
        f"<p>{escape(say(msg('board.copy_made', at=made_at)))} · {escape(fingerprint)}</p>",
        "</footer>",
    ]
