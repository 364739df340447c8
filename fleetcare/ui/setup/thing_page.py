"""One kind of thing: its list, the form of the chosen one, what saving would change, and its history."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QBoxLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.setup.forms import NOT_KEPT
from fleetcare.domain.wording import Message, msg, say, show_moment, word
from fleetcare.services import setting_up
from fleetcare.services.setting_up import Row, Version
from fleetcare.services.shown import Recorded
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.setup.form import ThingForm
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.page import Page
from fleetcare.ui.widgets.paged import rows_high, scrolled
from fleetcare.ui.widgets.tables import Column, Prepared, RowModel, Table, prepare

LIVE_MS = 150
NOT_COPIED = ("code", "serial")
"""Fields that a copy does not take over: they belong to one thing."""

HISTORY = (
    Column(word("setup.when"), lambda v: show_moment(v.entered_at), width=17),
    Column(word("setup.by"), lambda v: v.person_name, width=12),
    Column(word("setup.changed"), lambda v: version_text(v), width=40, tip=True),
)


def version_text(version: Version) -> str:
    """What one record changed."""
    if version.first:
        return word("setup.first_record")
    return "; ".join(say(one.told) for one in version.changes)


class ThingPage(Page):
    """Texts typed and not yet recorded stay, by thing, while another one is looked at."""

    def __init__(self, app: App, session: Session, changes: Changes, kind: str) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.kind = kind
        self.scrolls_itself = not large_text()
        self._background = Background(self)
        self._code = ""
        self._base: dict[str, str] = {}
        self._seen: int | None = None
        self._kept: dict[str, tuple[dict[str, str], int | None]] = {}
        """By code what is typed and not recorded, and up to which record its author had looked."""
        self.model = RowModel((
            Column(word("setup.code"), lambda r: r.code, width=10),
            Column(word("setup.what"), self._told, width=34, tip=True),
        ))  # fmt: skip
        self.table = Table(self.model, word(f"setup.tab_{kind}"), stretch=1)
        self.form = ThingForm(kind, self._typed, self.record)
        self.history = RowModel(HISTORY)
        self.history_table = Table(self.history, word("setup.changed"), stretch=2)
        self.history_heading = words(quiet=True)
        self.heading, self.live = words(size=1.15, bold=True), words()
        self.notices, self.wrong = words(), words()
        self.wrong.setProperty("role", "wrong")
        self.said = words(bold=True)
        self.new, self.copy = QPushButton(word("setup.new")), QPushButton(word("setup.copy"))
        self.discard, self.save = QPushButton(word("setup.discard")), QPushButton(word("setup.record"))
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(LIVE_MS)
        self._timer.timeout.connect(self.show_live)
        self._lay_out()
        self.form.offer(setting_up.offers(app.store))
        self.table.selectionModel().selectionChanged.connect(lambda _a, _b: self._picked())
        self.new.clicked.connect(lambda: self.begin())
        self.copy.clicked.connect(self.begin_copy)
        self.discard.clicked.connect(self._discard)
        self.save.clicked.connect(self.record)
        self._load("")
        if kind == "site_rules":
            for button in (self.new, self.copy):
                button.hide()

    def _lay_out(self) -> None:
        large = large_text()
        outer: QBoxLayout = QVBoxLayout(self) if large else QHBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.setSpacing(12)
        left, right = QVBoxLayout(), QVBoxLayout()
        tools = QHBoxLayout()
        tools.addWidget(self.new)
        tools.addWidget(self.copy)
        tools.addStretch(1)
        left.addLayout(tools)
        left.addWidget(self.table, 3)
        past = right if large else left
        foot = Card()
        buttons = QHBoxLayout()
        for button in (self.save, self.discard):
            button.setMinimumHeight(40)
            buttons.addWidget(button)
        buttons.addStretch(1)
        for part in (self.live, self.notices, self.wrong, self.said):
            foot.column.addWidget(part)
        foot.column.addLayout(buttons)
        right.addWidget(self.heading)
        if large:
            rows_high(self.table, 4)
            rows_high(self.history_table, 3)
            right.addWidget(self.form)
        else:
            self.scroll: QScrollArea = scrolled(self.form)
            self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            right.addWidget(self.scroll, 1)
        right.addWidget(foot)
        past.addWidget(self.history_heading)
        past.addWidget(self.history_table, 2)
        outer.addLayout(left, 0 if large else 4)
        outer.addLayout(right, 0 if large else 9)
        QApplication.instance().focusChanged.connect(self._follow)  # type: ignore[union-attr]

    def _follow(self, _old: QWidget | None, new: QWidget | None) -> None:
        """Keep the field with the focus in view, with what stands below it."""
        if new is None or not self.form.isAncestorOf(new):
            return
        area = self.form.parentWidget()
        while area is not None and not isinstance(area, QScrollArea):
            area = area.parentWidget()
        entry = next((one for one in self.form.entries.values() if one.isAncestorOf(new)), None)
        if area is not None and entry is not None:
            area.ensureWidgetVisible(entry, 0, 30)

    @property
    def first(self) -> QWidget:
        """Where the focus goes when the page is opened."""
        return self.table if self.model.rowCount() else self.form.first

    # the list

    def _told(self, row: Row) -> str:
        told = say(row.told)
        return f"{told} ({word('setup.unsaved')})" if row.code in self._kept else told

    def refresh(self) -> None:
        """Read what there is to choose from again, and off the GUI thread the list; what is typed stays."""
        store, kind, columns = self._app.store, self.kind, self.model.columns
        self.form.offer(setting_up.offers(store))
        self._background.ask(lambda: prepare(columns, setting_up.rows(store, kind)), self._show)

    def _show(self, rows: Prepared) -> None:
        self.model.set_prepared(rows)
        if self.kind == "site_rules" and not self._code and self.model.rowCount():
            self.choose(self.model.shown_row(0).code)
        elif self._code:
            self._select(self._code)
            self._show_history()
        self.show_live()

    def _select(self, code: str) -> None:
        line = self.model.line_of(code)
        self.table.selectionModel().blockSignals(True)
        if line is None:
            self.table.clearSelection()
        else:
            self.table.selectRow(line)
            self.table.scrollTo(self.model.index(line, 0))
        self.table.selectionModel().blockSignals(False)
        self.table.viewport().update()

    def _picked(self) -> None:
        row = self.table.selected_row()
        if isinstance(row, Row) and row.code != self._code:
            self._keep()
            self._load(row.code)

    def choose(self, code: str) -> None:
        """Show the form of a thing."""
        self._keep()
        self._load(code)
        self._select(code)

    # the form

    def begin(self) -> None:
        """An empty form for a new thing, or what was typed into it before."""
        self._keep()
        self._load("")
        self._select("")
        self.form.first.setFocus()

    def begin_copy(self) -> None:
        """A new thing like the one in the form, without what belongs to that one alone."""
        typed = {name: "" if name in NOT_COPIED else text for name, text in self.form.typed.items()}
        self._keep()
        self._kept[""] = typed, None
        self._load("")
        self._select("")
        self.form.first.setFocus()

    def _keep(self) -> None:
        """Keep what is typed and not recorded, under its thing."""
        typed = self._comparable(self.form.typed)
        if typed != self._comparable(self._base):
            self._kept[self._code] = self.form.typed, self._seen
        else:
            self._kept.pop(self._code, None)
        self._mark(self._code)

    def unsaved(self) -> tuple[str, ...]:
        """Codes of the things of which something is typed and not recorded; "" for a new one."""
        self._keep()
        return tuple(sorted(self._kept))

    def show_unsaved(self, code: str) -> None:
        """Show what is typed for this thing and not recorded, with the cursor in the form."""
        if code:
            self.choose(code)
            self.form.first.setFocus()
        else:
            self.begin()

    def _mark(self, code: str) -> None:
        """Show in the list whether something typed for this thing is not recorded yet."""
        number = next((n for n, row in enumerate(self.model.rows) if row.code == code), None)
        if number is not None:
            self.model.replace_row(number, self.model.rows[number])

    @staticmethod
    def _comparable(typed: dict[str, str]) -> dict[str, str]:
        return {name: text.strip() for name, text in typed.items() if name not in NOT_KEPT}

    def _load(self, code: str) -> None:
        self._code = code
        if code:
            page = setting_up.form_page(self._app.store, self.kind, code)
            self._base, self._seen = page.typed, page.position
        else:
            self._base, self._seen = setting_up.beginning(self._app.store, self.kind), None
        if self.kind == "pack_model":
            self.form.tell(say(setting_up.inspections_of(self._app.store, code)))
        typed, self._seen = self._kept.get(code, (self._base, self._seen))
        self.form.show_values(typed, code_fixed=bool(code))
        self.said.hide()
        self._quiet()
        self._show_history()
        self.show_live()

    def _show_history(self) -> None:
        versions = setting_up.form_page(self._app.store, self.kind, self._code).versions if self._code else ()
        self.history.set_rows(versions)
        self.history_heading.setText(
            say(msg("setup.history", code=self._code)) if self._code else word("setup.history_none")
        )
        self.history_table.setVisible(bool(versions))

    def _discard(self) -> None:
        self._kept.pop(self._code, None)
        self._mark(self._code)
        self._load(self._code)

    def _typed(self) -> None:
        self.discard.setEnabled(True)
        self.said.hide()
        self.wrong.hide()
        self._timer.start()

    def show_live(self) -> None:
        """Hints below the fields, and what saving would record."""
        self._timer.stop()
        store, typed = self._app.store, self.form.typed
        what = msg(f"class.{self.kind}")
        heading = (
            msg("setup.heading_one", what=what, code=self._code) if self._code else msg("setup.heading_new", what=what)
        )
        text = say(heading)
        self.heading.setText(text[0].upper() + text[1:])
        self.form.show_hints(setting_up.form_hints(store, self.kind, typed))
        changed = self._comparable(typed) != self._comparable(self._base)
        self.discard.setEnabled(changed)
        self.discard.setText(word("setup.discard" if self._code else "setup.empty_form"))
        self.copy.setEnabled(bool(self._code))
        notices: tuple[Message, ...] = ()
        try:
            ready = setting_up.preview(store, self._app.clock, self.kind, typed, self._code)
        except FleetcareError as error:
            told = ""
            self.form.still_wrong(error)
        else:
            self.form.still_wrong(None)
            notices = ready.notices if ready.changes else ()
            changes = "; ".join(say(one.told) for one in ready.changes)
            shows = msg("setup.shows_new") if ready.new else msg("setup.shows_changes", told=changes)
            told = say(shows) if ready.new or ready.changes else word("setup.shows_none")
        self.live.setText(told)
        self.live.setVisible(bool(told))
        self.notices.setText("\n".join(say(one) for one in notices))
        self.notices.setVisible(bool(notices))

    def _quiet(self) -> None:
        self.wrong.hide()
        self.form.quiet()

    def record(self) -> None:
        """Record what the form says; a refusal stands beside its field and everything typed stays."""
        self._quiet()
        self.said.hide()
        try:
            author = self._session.author(self._seen if self._code else self._changes.position)
            if author is None:
                raise EntryRefused("screen.sign_first")
            typed = self.form.typed
            done = setting_up.record_thing(self._app.store, self._app.clock, author, self.kind, typed, self._code)
        except FleetcareError as error:
            if not self.form.refuse(error):
                self.wrong.setText(say(error.message))
                self.wrong.show()
            return
        self._recorded(done, self._code or typed["code"].strip().upper())

    def _recorded(self, done: Recorded, code: str) -> None:
        self._kept.pop(self._code, None)
        self._code = code
        self._base = self.form.typed
        self._changes.tell(done)
        self.refresh()
        self._load(code)
        self.said.setText(say(done.message))
        self.said.show()
        (self.new if self.new.isVisible() else self.save).setFocus()
