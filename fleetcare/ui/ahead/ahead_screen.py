"""The manager's view ahead: packs needed, what the fleet taught, how projections came true, how long models last."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import msg, say, show_date, word
from fleetcare.ui.background import Background
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _cost(need: Any) -> str:
    if need.price is None:
        return "—"
    return " / ".join(f"{n * need.price:,.0f}" for n in (need.low, need.likely, need.high)) + f" {need.currency}"


NEEDS = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.until"), lambda r: show_date(r.until), sort=lambda r: r.until, width=12),
    Column(word("renewal.low"), lambda r: str(r.low), sort=lambda r: r.low, right=True, width=6),
    Column(word("renewal.likely"), lambda r: str(r.likely), sort=lambda r: r.likely, right=True, width=6),
    Column(word("renewal.high"), lambda r: str(r.high), sort=lambda r: r.high, right=True, width=6),
    Column(word("renewal.cost"), _cost, width=22),
    Column(word("renewal.unknown"), lambda r: str(r.unknown), sort=lambda r: r.unknown, right=True, width=13),
    Column(
        word("renewal.packs"), lambda r: ", ".join(f"{code} {100 * chance:.0f} %" for code, chance in r.named) or "—", width=50,
        tip=True,
    ),
)  # fmt: skip
LEARNT = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.rests_on"), lambda r: str(r.packs), sort=lambda r: r.packs, right=True, width=7),
    Column(word("renewal.energy"), lambda r: f"{r.energy_kj_mol:.0f} kJ/mol", sort=lambda r: r.energy_kj_mol, right=True, width=17),
    Column(word("renewal.colder"), lambda r: f"+{r.colder_percent:.0f} %", sort=lambda r: r.colder_percent, right=True, width=12),
    Column(
        word("renewal.yearly"), lambda r: f"{r.yearly_percent:+.1f} %", sort=lambda r: r.yearly_percent, right=True, width=19
    ),
    Column(word("renewal.yearly_v"), lambda r: f"{r.yearly_v:+.2f} V", sort=lambda r: r.yearly_v, right=True, width=21),
    Column(
        word("renewal.scatter"), lambda r: f"± {r.scatter_percent:.1f} %, ± {r.scatter_v:.2f} V",
        sort=lambda r: r.scatter_percent, width=20,
    ),
    Column(word("renewal.pace"), lambda r: f"± {r.pace_percent:.0f} %", sort=lambda r: r.pace_percent, width=16),
)  # fmt: skip
KEPT = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.quantity"), lambda r: word(f"quantity.{r.quantity}"), width=22),
    Column(word("renewal.days"), lambda r: str(r.days), sort=lambda r: r.days, right=True, width=11),
    Column(word("renewal.count"), lambda r: str(r.count), sort=lambda r: r.count, right=True, width=11),
    Column(word("renewal.said"), lambda _r: "80 %", right=True, width=7),
    Column(
        word("renewal.was"), lambda r: f"{r.inside_percent:.0f} %", sort=lambda r: r.inside_percent, right=True, width=7
    ),
    Column("", lambda _r: "", width=4),
)
LASTING = (
    Column(word("list.model"), lambda r: r.model, width=18),
    Column(word("renewal.rests_on"), lambda r: str(r.packs), sort=lambda r: r.packs, right=True, width=7),
    Column(word("renewal.pulled"), lambda r: str(r.pulled), sort=lambda r: r.pulled, right=True, width=8),
    Column(
        word("renewal.age"), lambda r: f"{r.mean_months:.0f} months", sort=lambda r: r.mean_months, right=True, width=11
    ),
    Column(word("renewal.told"), lambda r: say(r.sentence), width=60, tip=True),
)
PAGES = (("needs", NEEDS), ("learnt", LEARNT), ("kept", KEPT), ("lasting", LASTING))


class AheadScreen(QWidget):
    """Four tables, read in the background each time the screen is opened."""

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        self._background = Background(self)
        self.note = words(word("renewal.busy"), quiet=True)
        self.pages = QTabWidget()
        self.models: dict[str, RowModel] = {}
        self.tables: dict[str, Table] = {}
        for name, columns in PAGES:
            self.models[name] = RowModel(columns)
            table = Table(self.models[name], word(f"renewal.{name}"))
            table.sort_by_headings()
            self.tables[name] = table
            self.pages.addTab(table, word(f"renewal.{name}"))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addWidget(words(word("renewal.heading"), size=1.4, bold=True))
        outer.addWidget(self.note)
        outer.addWidget(self.pages, 1)

    @property
    def table(self) -> Table:
        """The table in view, for the focus."""
        return self.tables[PAGES[self.pages.currentIndex()][0]]

    def refresh(self) -> None:
        """Read everything again, off the GUI thread."""
        app = self._app

        def work() -> Any:
            from fleetcare.services.renewal import renewal  # SciPy: not before it is asked for

            return renewal(app.store, app.clock)

        self.note.setText(word("renewal.busy"))
        self._background.ask(work, self._show)

    def _show(self, found: Any) -> None:
        for name, _ in PAGES:
            self.models[name].set_rows(getattr(found, name))
        nothing = not found.learnt
        self.note.setText(word("renewal.nothing") if nothing else say(msg("renewal.note", as_of_date=found.as_of)))
