"""The question for a decision, asked the same way from a pack's page and after a check."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from fleetcare.app import App
from fleetcare.domain import decisions as rule
from fleetcare.domain.decisions import Choice as Decided
from fleetcare.domain.decisions import Kind, Question
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import deciding, decisions
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.forms import Choice


def site_of(app: App) -> SiteRules:
    """The site's settings."""
    with app.store.view() as view:
        return view.thing("site_rules", "SITE") or SiteRules()


def choices(kind: Kind) -> list[tuple[str, str]]:
    """What can be decided where `kind` asks, each as (code, words)."""
    return [(one.value, word(f"decision_choice.{one.value}")) for one in rule.open_to(kind)]


def ask_decision(
    parent: QWidget, app: App, session: Session, changes: Changes, pack: str, asked: Question | None
) -> None:
    """Ask for a named, dated decision about `pack` and keep it."""
    choice = Choice(word("decisions.choice"))
    choice.setObjectName("choice")
    choice.offer(choices(asked.kind if asked is not None else Kind.EARLY))
    until, reason = Field(word("decisions.until")), Field(word("decisions.reason"))
    until.setObjectName("until")

    def suggest() -> None:
        day = rule.suggested(Decided(choice.code), app.clock().date(), site_of(app)) if choice.code else None
        until.fill_in("" if day is None else day.isoformat())

    def deed() -> None:
        author = session.author(changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        if not choice.code:
            raise EntryRefused("decisions.choose_one", field="choice")
        day = date_if_typed(until.text, field="until")
        early = None
        if asked is not None and asked.kind is Kind.EARLY:
            early = decisions.Early(str(asked.statement.value("quantity_code")), asked.statement.value("edge_date"))  # type: ignore[arg-type]
        done = deciding.decide(app.store, app.clock, author, pack, Decided(choice.code), day, reason.text, early)
        changes.tell(done)

    choice.box.activated.connect(lambda _i: suggest())
    heading = say(msg("decisions.ask_heading", pack=pack))
    told = heading if asked is None else f"{heading}: {say(asked.statement)}"
    AskDialog(parent, told, (choice, until, reason), word("decisions.do"), deed).exec()
