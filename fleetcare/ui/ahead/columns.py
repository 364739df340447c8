"""Columns of the tables on the manager's page ahead."""

from __future__ import annotations

from typing import Any

from fleetcare.domain.wording import msg, say, show_chance, show_moment, word
from fleetcare.ui.widgets.tables import Column


def signed(value: float, places: int) -> str:
    """A change with its sign; what rounds to nothing has none."""
    shown = f"{value:+.{places}f}".replace("-", "−")
    return shown[1:] if not float(f"{value:.{places}f}") else shown


def _learnt(text: str, known: bool) -> str:
    return text if known else word("sure.too_few")


def _yearly(value: float, places: int, unit: str) -> str:
    """A change in a year with its sign; what rounds to nothing keeps still."""
    if not float(f"{value:.{places}f}"):
        return word("sure.keeps_still")
    return f"{signed(value, places)} {unit}"


def _scatter(row: Any) -> str:
    """Of one reading; a dash where none of the kind was read."""
    ohm = f"±\N{NO-BREAK SPACE}{row.scatter_percent:.1f} %" if row.ohm_packs else "—"
    return f"{ohm}, ±\N{NO-BREAK SPACE}{row.scatter_v:.2f} V" if row.full_packs else ohm


def _clause(row: Any) -> str:
    """The clause as written, behind the warning where it speaks of hire."""
    return say(row.terms.clause_told) if row.terms.clause else "—"


NEEDS = (
    Column(word("window.pack"), lambda r: r.code, width=9),
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("needs.when"), lambda r: say(msg("needs.quarter", from_date=r.from_date, to_date=r.to_date)),
           sort=lambda r: (r.from_date, -r.chance), width=26),
    Column(word("needs.chance_head"), lambda r: show_chance(r.chance), sort=lambda r: r.chance, right=True, width=8),
    Column(word("needs.leads"), lambda r: say(r.why), width=40, tip=True),
)  # fmt: skip
SUSPECTS = (
    Column(word("window.pack"), lambda r: r.pack, width=9),
    Column(word("list.done"), lambda r: show_moment(r.reading.done_at), sort=lambda r: r.reading.done_at.timestamp(), width=20),
    Column(word("suspect.reading"), lambda r: f"{word(f'quantity.{r.quantity}')} {say(r.value)}", width=27),
    Column(word("list.meter"), lambda r: r.reading.meter, width=6),
    Column(word("suspect.why"), lambda r: say(r.why), width=52, tip=True),
    Column(word("suspect.do"), lambda r: say(r.what_to_do), width=40, tip=True),
)  # fmt: skip
CLAIMS = (
    Column(word("window.pack"), lambda r: r.pack, width=9),
    Column(word("warranty.end"), lambda r: say(r.time_left), sort=lambda r: r.left_days, width=29),
    Column(word("warranty.clause"), _clause, width=44, tip=True),
    Column(word("warranty.finding"), lambda r: say(r.finding or msg("warranty.nothing_found")), width=34, tip=True),
    Column(word("review.evidence"), lambda r: say(r.state), sort=lambda r: len(r.lacks), width=34, tip=True),
)  # fmt: skip
LEARNT = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.rests_on"), lambda r: str(r.packs), sort=lambda r: r.packs, right=True, width=7),
    Column(word("sure.rests"), lambda r: say(r.rests_on), width=36, tip=True),
    Column(word("renewal.energy"), lambda r: f"{r.energy_kj_mol:.0f} kJ/mol", sort=lambda r: r.energy_kj_mol, right=True, width=18),
    Column(word("renewal.colder"), lambda r: f"+{r.colder_percent:.0f} %", sort=lambda r: r.colder_percent, right=True, width=13),
    Column(word("renewal.yearly"), lambda r: _learnt(_yearly(r.yearly_percent, 1, "%"), r.knows_ohm), sort=lambda r: r.yearly_percent, right=True, width=11),
    Column(word("renewal.yearly_v"), lambda r: _learnt(_yearly(r.yearly_v, 2, "V"), r.knows_volts), sort=lambda r: r.yearly_v, right=True, width=11),
    Column(word("renewal.scatter"), _scatter, sort=lambda r: r.scatter_percent, width=19),
    Column(word("renewal.pace"), lambda r: _learnt(f"± {r.pace_percent:.0f} %", r.knows_ohm), sort=lambda r: r.pace_percent, width=16),
)  # fmt: skip
LARGE_LEARNT = (
    Column(word("sure.model_packs"), lambda r: f"{r.model} ({r.packs})", width=18),
    LEARNT[2],
    Column(
        word("sure.law_short"),
        lambda r: f"{r.energy_kj_mol:.0f} kJ/mol",
        sort=lambda r: r.energy_kj_mol,
        right=True,
        width=12,
    ),
    *LEARNT[4:],
)
"""For large letters: with fewer and narrower columns no row scrolls sideways."""
KEPT = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.quantity"), lambda r: word(f"quantity.{r.quantity}"), width=20),
    Column(word("renewal.days"), lambda r: str(r.days), sort=lambda r: r.days, right=True, width=12),
    Column(word("renewal.count"), lambda r: str(r.count), sort=lambda r: r.count, right=True, width=13),
    Column(word("renewal.said"), lambda _r: "80 %", right=True, width=6),
    Column(word("renewal.was"), lambda r: f"{r.inside_percent:.0f} %", sort=lambda r: r.inside_percent, right=True, width=6),
    Column(word("sure.judged"), lambda r: say(r.judged), width=20),
)  # fmt: skip
