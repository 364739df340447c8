"""What waits for a decision, what was decided, and due checks put off."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox

from fleetcare.app import App
from fleetcare.domain import decisions as rule
from fleetcare.domain.decisions import Choice as Decided
from fleetcare.domain.decisions import Kind
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.labels import normalise
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import Message, msg, say, show_date, show_moment, word
from fleetcare.services import deciding, decisions, extending
from fleetcare.services.decisions import DecisionLists, Early, Undecided
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.cases.tab import CaseTab, across
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.deciding import choices
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table

_MARK = {Kind.PULL: colours.FAULT, Kind.WATCH: colours.CAUTION, Kind.EARLY: colours.ACTION}


def _ran_out(row: Undecided) -> str:
    if row.ran_out is None:
        return word("decisions.first_time")
    return say(
        msg("decisions.run_out_line", what=decisions.what_was_decided(row.ran_out), person=row.decided_by,
            on_date=row.ran_out.done_at.date())
    )  # fmt: skip


WAITING = (
    Column(word("window.pack"), lambda r: r.pack, width=10),
    Column(word("decisions.kind"), lambda r: word(f"decision_kind.{r.kind.value}"), sort=lambda r: -r.kind.rank,
           mark=lambda r: _MARK[r.kind], width=18),
    Column(word("decisions.question"), lambda r: say(r.statement), width=44, tip=True),
    Column(word("decisions.since"), lambda r: show_moment(r.since), sort=lambda r: r.since, width=18),
    Column(word("decisions.run_out"), _ran_out, width=22, tip=True),
    Column(word("decisions.where"), lambda r: r.place, width=16),
)  # fmt: skip
MADE = (
    Column(word("window.pack"), lambda r: r.decision.pack, width=10),
    Column(word("decisions.what"), lambda r: say(r.what), width=30),
    Column(word("decisions.by"), lambda r: r.person, width=14),
    Column(word("list.done"), lambda r: show_date(r.on_date), sort=lambda r: r.on_date, width=14),
    Column(word("list.reason"), lambda r: r.decision.reason, width=40, tip=True),
)  # fmt: skip


class DecisionsTab(CaseTab):
    """Choose a pack in the upper list; the card decides about it."""

    open_pack = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__(app, session, changes)
        self._early: dict[str, Early] = {}
        self._projecting = Background(self)
        self.count = words(size=1.2, bold=True)
        self.waiting, self.made = RowModel(WAITING), RowModel(MADE)
        self.table = Table(self.waiting, word("decisions.list_heading"), stretch=2)
        self.made_table = Table(self.made, word("decisions.made_heading"), stretch=4)
        for table, rows in ((self.table, 7), (self.made_table, 4)):
            table.sort_by_headings()
            table.setMinimumHeight(table.verticalHeader().defaultSectionSize() * rows)
        self.choice = Choice(word("decisions.choice"))
        self.card = DeedCard(
            word("decisions.heading"),
            {"choice": self.choice, "until": Field(word("decisions.until")), "reason": Field(word("decisions.reason"))},
            word("decisions.do"), self._decide, columns=3,
        )  # fmt: skip
        self.choice.offer(choices(Kind.EARLY))
        self.choice.box.activated.connect(lambda _i: self._suggest())
        self.off = DeedCard(
            word("extension.heading"),
            {"pack": code_field(word("window.pack")), "until": Field(word("extension.until")),
             "reason": Field(word("screen.reason"))},
            word("extension.do"), self._extend, columns=3,
        )  # fmt: skip
        self.off_rule = words(quiet=True)
        self.off.column.insertWidget(1, self.off_rule)
        self.allowed = QCheckBox(word("extension.allow_tick"))
        self.rule = DeedCard(
            "",
            {"most_days": Field(word("extension.most_days"), number=True, width=90)},
            word("extension.save_rule"),
            self._save_rule,
        )
        self.rule.add(self.allowed)
        self.column.addWidget(self.count)
        self.column.addWidget(words(word("decisions.note"), quiet=True))
        self.column.addWidget(self.table, 3)
        self.column.addWidget(self.card)
        self.column.addWidget(words(word("decisions.made_heading"), bold=True))
        self.column.addWidget(self.made_table, 2)
        row = across()
        row.addWidget(self.off, 3)
        row.addWidget(self.rule, 1)
        self.column.addLayout(row)
        self.table.opened.connect(lambda row: self.open_pack.emit(row.pack))
        self.made_table.opened.connect(lambda row: self.open_pack.emit(row.decision.pack))
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._chosen())

    def refresh(self) -> None:
        """Read verdicts and holds first; projections follow, since they take longer."""
        app = self._app
        self.reread()
        with app.store.view() as view:
            site: SiteRules = view.thing("site_rules", "SITE") or SiteRules()
        key = "extension.rule_on" if site.extension_allowed else "extension.rule_off"
        self.off_rule.setText(say(msg(key, most_days=site.extension_most_days)))
        self.allowed.setChecked(site.extension_allowed)
        self.rule.fields["most_days"].edit.setText(str(site.extension_most_days))
        self._projecting.ask(lambda: decisions.early_edges(app.store, app.clock), self._with_early)

    def reread(self) -> None:
        """Read both lists again, off the GUI thread, with the projections as last read."""
        app, early = self._app, self._early
        self._background.ask(lambda: decisions.decision_lists(app.store, app.clock, early), self._show_lists)

    def _with_early(self, early: dict[str, Early]) -> None:
        self._early = early
        self.reread()

    def _show_lists(self, lists: DecisionLists) -> None:
        chosen = self.table.selected_row()
        waiting = lists.waiting
        self.made.set_rows(lists.made)
        self.waiting.set_rows(waiting)
        told = msg("decisions.undecided", count=len(waiting)) if waiting else msg("decisions.none")
        self.count.setText(say(told))
        codes = [row.pack for row in waiting]
        if codes:
            self.table.selectRow(codes.index(chosen.pack) if chosen is not None and chosen.pack in codes else 0)
        self._chosen()

    def _chosen(self) -> None:
        row = self.table.selected_row()
        self.card.setEnabled(row is not None)
        self.choice.offer(choices(row.kind if row is not None else Kind.EARLY))
        self.card.heading.setText(
            word("decisions.heading") if row is None else say(msg("decisions.ask_heading", pack=row.pack))
        )

    def choose(self, pack: str) -> None:
        """Select a pack that waits."""
        codes = [row.pack for row in self.waiting.rows]
        if pack in codes:
            self.table.selectRow(codes.index(pack))

    def _suggest(self) -> None:
        """Offer the usual date of the chosen decision; it can be typed over."""
        if not self.choice.code:
            return
        with self._app.store.view() as view:
            site: SiteRules = view.thing("site_rules", "SITE") or SiteRules()
        day = rule.suggested(Decided(self.choice.code), self._app.clock().date(), site)
        self.card.fields["until"].fill_in("" if day is None else day.isoformat())

    def _decide(self) -> Message:
        row = self.table.selected_row()
        if row is None:
            raise EntryRefused("decisions.choose")
        if not self.choice.code:
            raise EntryRefused("decisions.choose_one", field="choice")
        until = date_if_typed(self.card.fields["until"].text, field="until")
        done = deciding.decide(
            self._app.store, self._app.clock, self.author(), row.pack, Decided(self.choice.code), until,
            self.card.fields["reason"].text, self._early.get(row.pack),
        )  # fmt: skip
        self._changes.tell(done)
        self.reread()
        return done.message

    def _extend(self) -> Message:
        fields = self.off.fields
        until = date_if_typed(fields["until"].text, field="until")
        if until is None:
            raise EntryRefused("decision.needs_date", field="until")
        code = normalise(fields["pack"].text)
        done = extending.extend_due(self._app.store, self._app.clock, self.author(), code, until, fields["reason"].text)
        self.tell(done)
        return done.message

    def _save_rule(self) -> Message:
        typed = self.rule.fields["most_days"].text.strip()
        if not typed.isdecimal():
            raise EntryRefused("extension.bad_days", field="most_days", typed=typed)
        done = extending.set_rule(
            self._app.store, self._app.clock, self.author(), allowed=self.allowed.isChecked(), most_days=int(typed)
        )
        self.tell(done)
        return done.message
