"""The board as one HTML file for those who look from elsewhere: read-only, self-contained, and honest about its age.

Nothing is fetched: style, script and shapes are in the file, and its own policy forbids everything else.  Every text
is escaped.  The age is worked out in the reader's browser, so that a copy that nobody renews turns grey by itself;
where scripts are off a sentence says from when on it is not to be relied on.  A narrow or much enlarged page shows each
line of the table as a card.
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
from fleetcare.domain.wording import msg, say, show_moment, show_since, word
from fleetcare.reports.shapes import shape_of
from fleetcare.services import freeing
from fleetcare.services.shown import FleetSummary, VehicleSummary, clears_brief, next_steps

FILE_NAME = "board.html"
REFRESH_S = 60
"""So often the page is loaded again, unless its reader turned that off (WCAG 2.2, 2.2.2 and failure F41 of 2.2.1)."""

_SHAPES = {
    "circle": '<circle cx="8" cy="8" r="7"/>',
    "ring": '<circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    "square": '<path d="M1 1h14v14H1z"/>',
    "diamond": '<path d="M8 0l8 8-8 8-8-8z"/>',
    "triangle": '<path d="M8 0l8 15H0z"/>',
    "cross": '<path d="M3 0l5 5 5-5 3 3-5 5 5 5-3 3-5-5-5 5-3-3 5-5-5-5z"/>',
}
_STYLE = """
:root { color-scheme: light dark; --ground: #ffffff; --ink: #1c2321; --quiet: #4d5652; --line: #8b948f; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ground: #171b19; --ink: #e8ecea; --quiet: #b3bcb7; --line: #6d7671; }
}
*, ::before { box-sizing: border-box; }
body { margin: 1rem auto; max-width: 90rem; padding: 0 1rem; background: var(--ground); color: var(--ink);
  font: 1rem/1.4 system-ui, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; margin: 0 0 .25rem; }
h2 { font-size: 1.2rem; margin: 1.25rem 0 .5rem; }
h3 { font-size: 1rem; margin: .75rem 0 .35rem; }
#age, #old { font-size: 1.5rem; font-weight: bold; margin: 0; }
.demo { border: 2px solid; border-radius: .25rem; padding: 0 .5rem; white-space: nowrap; }
.counts { display: flex; flex-wrap: wrap; align-items: center; gap: .5rem; padding: 0; margin: .5rem 0; list-style: none; }
.state { display: inline-flex; align-items: center; gap: .4rem; padding: .15rem .6rem; border-radius: .25rem;
  border: 1px solid transparent; font-weight: bold; white-space: nowrap; }
.state svg { width: .9em; height: .9em; fill: currentColor; flex: none; }
.good { background: #1a7038; color: #ffffff; } .action { background: #0b57b0; color: #ffffff; }
.caution, .fault { background: #f2c53d; color: #1c1a10; } .danger { background: #b3261e; color: #ffffff; }
.unknown, .stale .state { background: #656d69; color: #ffffff; }
table { border-collapse: collapse; width: 100%; }
caption { text-align: left; padding: .25rem .5rem; color: var(--quiet); }
th, td { text-align: left; vertical-align: top; padding: .35rem .5rem; border-bottom: 1px solid var(--line); }
th[scope=row] { font-size: 1.15rem; }
.code { white-space: nowrap; }
.reason, .next, .offers { overflow-wrap: anywhere; min-width: 9rem; }
.depot { display: block; font-size: .9rem; font-weight: normal; color: var(--quiet); }
ul { margin: 0; padding-left: 1.1rem; }
.ready { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(8rem, 100%), 1fr)); gap: .35rem; list-style: none; padding: 0; }
.ready .state { white-space: normal; }
.ready .state::before { content: ""; flex: none; width: .9em; height: .9em; border: .45em solid; border-radius: 50%; }
.stale .ready .state::before { border-width: .15em; }
footer { color: var(--quiet); margin-top: 1.5rem; font-size: .9rem; }
label { display: inline-flex; align-items: center; gap: .4rem; min-height: 1.5rem; }
input { width: 1.5rem; height: 1.5rem; margin: 0; }
.was, .stale .now { display: none; } .stale .was { display: inline; }
@media screen and (max-width: 62rem) {
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table, caption, tbody, tr, th[scope=row], td { display: block; }
  tr { border: 1px solid var(--line); border-radius: .25rem; margin: .5rem 0; padding: .35rem 0; }
  .code { white-space: normal; }
  th[scope=row], td { border: 0; padding: .15rem .5rem; }
  td[data-head]::before { content: attr(data-head); display: block; font-size: .9rem; color: var(--quiet); }
}
@page { size: landscape; margin: 12mm; }
@media print {
  body { margin: 0; max-width: none; padding: 0; font-size: 10pt; }
  .state, .stale .state { background: none; color: #000; border-color: #000; }
  tr, .ready .state { break-inside: avoid; }
  h2, h3 { break-after: avoid; }
  #renewal { display: none; }
}
"""
_SCRIPT = """
(function () {
  var old = document.getElementById("old"), told = old.dataset, title = document.title;
  var at = Date.parse(told.at), limit = Number(told.limit) * 60000;
  function said(minutes) {
    if (minutes < 0) { return told.ahead; }
    if (minutes < 120) { return told.minutes.replace("#", minutes); }
    return minutes < 2880 ? told.hours.replace("#", Math.floor(minutes / 60)) : told.days.replace("#", Math.floor(minutes / 1440));
  }
  function look() {
    var age = Date.now() - at, stale = age > limit || age < -120000, text = stale ? said(Math.floor(age / 60000)) : "";
    document.body.classList.toggle("stale", stale);
    if (old.textContent !== text) { old.textContent = text; document.title = stale ? told.mark + " " + title : title; }
  }
  look();
  setInterval(look, 10000);
  var renew = document.getElementById("renew");
  try { renew.checked = sessionStorage.getItem("renew") !== "no"; } catch (error) { renew.checked = true; }
  renew.addEventListener("change", function () {
    try { sessionStorage.setItem("renew", renew.checked ? "yes" : "no"); } catch (error) { return; }
  });
  document.getElementById("renewal").hidden = false;
  setInterval(function () { if (renew.checked) { location.reload(); } }, Number(told.renew) * 1000);
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
    limit = fleet.stale_after_minutes
    kept = {"at": fleet.as_of.isoformat(), "limit": limit, "renew": REFRESH_S}
    kept |= {name: word(f"board.copy_old_{name}") for name in ("minutes", "hours", "days", "ahead", "mark")}
    data = " ".join(f'data-{name}="{escape(str(value))}"' for name, value in kept.items())
    counts = [
        f"<li>{_badge(_KIND_OF_SHAPE[shape], shape, f'{fleet.counts[state]:,} ' + word(f'board_state.{state.value}'))}</li>"
        for state, shape in _SHAPE_OF_STATE.items()
    ]
    return [
        "<header>",
        f"<h1>{escape(title)}{demo}</h1>",
        f'<p id="age">{escape(say(msg("window.as_of", at_time=show_moment(fleet.as_of))))}</p>',
        f'<p id="old" role="status" {data}></p>',
        f"<noscript><p>{escape(say(msg('board.copy_noscript', limit_minutes=limit)))}</p></noscript>",
        f'<p id="renewal" hidden><label><input type="checkbox" id="renew"> {escape(word("board.copy_renew"))}</label></p>',
        '<ul class="counts">',
        f"<li>{escape(say(msg('screen.counts_are', total_vehicles=len(fleet.vehicles))))}</li>",
        *counts,
        "</ul>",
        *([] if fleet.away_told is None else [f"<p>{escape(say(fleet.away_told))}</p>"]),
        "</header>",
    ]


_HEADS = ("vehicle", "state", "reason", "since", "next", "clears", "offers")


def _not_ready(fleet: FleetSummary) -> list[str]:
    """The table; its roles are written out, since a narrow page lays it out as cards and browsers then forget them."""
    lines = [line for line in fleet.vehicles if line.status.state is not BoardState.READY]
    if not lines:
        return []
    heads = {name: escape(word(f"list.{name}")) for name in _HEADS}
    parts = [f"<h2>{escape(word('board.copy_not_ready'))}</h2>", '<table role="table">',
             f"<caption>{escape(word('board.copy_caption'))}</caption>",
             '<thead role="rowgroup"><tr role="row">']  # fmt: skip
    parts += [f'<th role="columnheader" scope="col">{head}</th>' for head in heads.values()]
    parts.append('</tr></thead><tbody role="rowgroup">')
    names = dict(fleet.depots)
    for line in lines:
        cells = _cells(line, fleet, names)
        at = _depot(line, names)
        where = f' <span class="depot">{escape(at)}</span>' if len(names) > 1 else ""
        parts.append(
            f'<tr role="row"><th role="rowheader" scope="row"><span class="code">{escape(line.vehicle.code)}</span>{where}</th>'
        )
        parts.append(f'<td role="cell">{_state(line)}</td>')
        parts += [
            f'<td role="cell" class="{name}" data-head="{heads[name]}">{cell}</td>'
            for name, cell in zip(_HEADS[2:], cells, strict=True)
        ]
        parts.append("</tr>")
    return [*parts, "</tbody></table>"]


def _cells(line: VehicleSummary, fleet: FleetSummary, names: dict[str, str]) -> tuple[str, ...]:
    """Reasons, since when, next step, who may clear it, and what frees it, as markup."""
    lead = line.status.reasons[0] if line.status.reasons else None
    reasons = [
        f"{word(f'hold_class.{one.hold_class.value}')}: {say(one.text)}" for one in line.status.reasons
    ]  # fmt: skip
    proposed = [offer for offer in line.offers if offer.proposed] or list(line.offers[:1])
    offers = [say(freeing.explained(offer, names)) for offer in proposed]
    if line.no_offer is not None:
        offers.append(say(line.no_offer))
    return (
        _listed(reasons),
        escape(show_since(lead.since, year=True)) if lead and lead.since else _NOTHING,
        _listed([say(step) for step in next_steps(line)]),
        escape(clears_brief(line, fleet.at_work)) or _NOTHING,
        _listed(offers),
    )


_NOTHING = "—"


def _listed(texts: list[str]) -> str:
    """Nothing, one sentence, or a list of several."""
    if len(texts) > 1:
        return f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in texts)}</ul>"
    return escape(texts[0]) if texts else _NOTHING


def _depot(line: VehicleSummary, names: dict[str, str]) -> str:
    return names.get(line.vehicle.depot, line.vehicle.depot)


def _ready(fleet: FleetSummary) -> list[str]:
    """Where there are several depots, each has a list of its own."""
    at: dict[str, list[str]] = {}
    names = dict(fleet.depots)
    for line in fleet.vehicles:
        if line.status.state is BoardState.READY:
            at.setdefault(_depot(line, names), []).append(line.vehicle.code)
    if not at:
        return []
    now, was = word("board_state.ready").capitalize(), word("board.copy_was_ready")
    parts = [f'<h2><span class="now">{escape(now)}</span><span class="was">{escape(was)}</span></h2>']
    for depot in sorted(at):
        if len(names) > 1:
            parts.append(f"<h3>{escape(depot) or _NOTHING}</h3>")
        items = "\n".join(f'<li class="state good">{escape(code)}</li>' for code in at[depot])
        parts.append(f'<ul class="ready">\n{items}\n</ul>')
    return parts


def _foot(fleet: FleetSummary, made_at: dt.datetime) -> list[str]:
    fingerprint = say(msg("paper.fingerprint", fingerprint=Head(fleet.position, fleet.fingerprint).short))
    return [
        "<footer>",
        f"<p><strong>{escape(word('safety.fire_line'))}</strong> {escape(word('safety.fire_source'))}</p>",
        f"<p>{escape(say(msg('board.copy_made', at=made_at)))} · {escape(fingerprint)}</p>",
        "</footer>",
    ]
