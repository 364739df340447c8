"""The deed of deciding about a pack: named, dated, and bound to what asked."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain import decisions as rule
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.decisions import Choice, Decision, Kind, Question
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Role, SiteRules
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg
from fleetcare.services.charge_bars import reads_nothing
from fleetcare.services.decisions import Early, question_of, what_was_decided
from fleetcare.services.people import has_role, level_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known_pack
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store


def decide(
    store: Store, clock: Clock, author: Author, pack: str, choice: Choice, until: dt.date | None, reason: str = "",
    early: Early | None = None,
) -> Recorded:  # fmt: skip
    """Decide about a pack.  Carrying on and replacing need the level that may release or a manager; pulling
    and re-checking the level that may check.  A pull holds the pack at once.
    """
    now = clock()
    with store.transaction() as tx:
        known_pack(tx, pack)
        level = level_of(tx, author, now)
        needed = Level.MAY_CHECK if choice in (Choice.PULL, Choice.RECHECK) else Level.MAY_RELEASE
        if not level.covers(needed) and not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("decision.allow", field="choice", person=author.person.name)
        holds = tx.open_holds(("pack", pack))
        latest = tx.latest_checks([pack]).get(pack)
        model = tx.thing("pack_model", tx.thing("pack", pack).model)
        if choice is Choice.CARRY_ON and reads_nothing(tx, pack, model):
            raise EntryRefused("decision.no_carry_on_silent", field="choice", pack=pack)
        asked = question_of(tx, pack, latest, holds, early, now) or Question(
            pack, Kind.EARLY, now, msg("decision.ask_own")
        )
        rule.refuse_wrong(choice, asked.kind, until, now.date(), tx.thing("site_rules", "SITE") or SiteRules())
        decision = Decision(
            pack, asked.kind, choice, until if choice.dated else None, now, asked.statement, asked.about, reason.strip()
        )
        writer = Writer(tx, author, now)
        made = writer.add("decision", decision, now)
        key = "record.decision"
        if choice is Choice.PULL:
            ruling = Ruling(HoldClass.FAULT, msg("decision.held_pull"))
            if not any(h.hold_class is HoldClass.FAULT for h in holds):
                hold_by_rule(tx, writer, ruling, Hold("pack", pack, ruling.hold_class, now, ruling.reason, cause=made))
            key = "record.decision_held"
        return writer.recorded(msg(key, pack=pack, what=what_was_decided(decision)))
