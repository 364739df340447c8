"""The deeds of decisions, recalls, incidents, inspections and competence, for the table of who may do what."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.domain.decisions import Choice
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.packs import Level, Meter, Training
from fleetcare.domain.recalls import RecallNotice
from fleetcare.services import (
    competence,
    deciding,
    extending,
    incident_deeds,
    people,
    recalling,
    releasing,
    withholding,
)
from fleetcare.services.session import Author
from tests.kestrel import MONDAY, Kestrel

TODAY = MONDAY.date()
GOOD = Inspected("vehicle", "CB-06", MONDAY, True, "brake cable new, tried in the yard")
BAD = Inspected("charger", "C-36-1", MONDAY, False, "lead chafed")
NOTICE = RecallNotice("R-1", ("K36-A",), "2403-0502", "2403-0503", MONDAY)


def looked_over(made: Kestrel) -> None:
    """CB-06 was looked over and is good."""
    releasing.record_inspection(made.store, made.clock, made.author(), GOOD)


def _incident(made: Kestrel, a: Author, _ready: Any) -> None:
    opened = IncidentOpened("", "smoke", "shed", MONDAY, (("pack", "P-1002"),))
    incident_deeds.open_incident(made.store, made.clock, a, opened)


def _opened(made: Kestrel, _folder: Path) -> None:
    _incident(made, made.author(), None)


def _widen(made: Kestrel, a: Author, _ready: Any) -> None:
    things = (("pack", "P-1003"),)
    incident_deeds.widen_incident(made.store, made.clock, a, "I-2026-001", things, "stood beside it")


def _close(made: Kestrel, a: Author, _ready: Any) -> None:
    incident_deeds.close_incident(made.store, made.clock, a, "I-2026-001", "seen by the insurer", a.person.badge)


def _recalled(made: Kestrel, _folder: Path) -> None:
    recalling.enter_notice(made.store, made.clock, made.author(), NOTICE)


def _clear(made: Kestrel, a: Author, _ready: Any) -> None:
    recalling.clear_recall(made.store, made.clock, a, "R-1", "P-1002", "new pack", "", a.person.badge)


def _rule_out(made: Kestrel, a: Author, _ready: Any) -> None:
    recalling.rule_out(made.store, made.clock, a, "R-1", "P-1002", "2403-0790", "", a.person.badge)


def _leaver(made: Kestrel, _folder: Path) -> None:
    gone = replace(made.people["PIKE"], roles=(), level=Level.NONE)
    people.put_person(made.store, made.clock, made.author("ORMOND"), gone)


def _withhold(made: Kestrel, a: Author, _ready: Any) -> None:
    withholding.withhold_name(made.store, made.clock, a, "PIKE", "left, asked in writing")


def _withdraw(made: Kestrel, a: Author, _ready: Any) -> None:
    recalling.withdraw_notice(made.store, made.clock, a, "R-1", "typed wrongly", a.person.badge)


def _watched(made: Kestrel, _folder: Path) -> None:
    made.check("P-1011", "41.60", loaded="39.80")


def _decide(choice: Choice) -> Any:
    until = TODAY + dt.timedelta(days=5)
    return lambda made, a, _r: deciding.decide(made.store, made.clock, a, "P-1011", choice, until)


def _allowed(made: Kestrel, _folder: Path) -> None:
    extending.set_rule(made.store, made.clock, made.author("ORMOND"), allowed=True, most_days=3)


def _extend(made: Kestrel, a: Author, _ready: Any) -> None:
    extending.extend_due(made.store, made.clock, a, "P-1002", TODAY + dt.timedelta(days=12), "mechanic ill")


def _train(made: Kestrel, a: Author, _ready: Any) -> None:
    competence.record_training(made.store, made.clock, a, "PIKE", Training("Fuse work", TODAY))


def _meter(made: Kestrel, a: Author, _ready: Any) -> None:
    meter = Meter("X-01", "hand-held", Decimal("0.5"), 2, Decimal("0.01"), owner="Brook Electric")
    competence.put_contractor_meter(made.store, made.clock, a, meter)


def _nothing(_made: Kestrel, _folder: Path) -> None:
    """Nothing must be on record before."""


CASES: tuple[tuple[str, str, str, Any, Any, str], ...] = (
    ("incident_deeds.open_incident", "open an incident", "ANYONE", _incident, _nothing, ""),
    ("incident_deeds.widen_incident", "name more things of an incident", "ANYONE", _widen, _opened, "a reason"),
    ("incident_deeds.close_incident", "close an incident", "MANAGER", _close, _opened, "a reason, badge or PIN"),
    ("recalling.enter_notice", "enter a maker's recall", "ANYONE",
     lambda m, a, _r: recalling.enter_notice(m.store, m.clock, a, NOTICE), _nothing, ""),
    ("recalling.clear_recall", "end a recall's hold by the maker's remedy", "MAY_RELEASE", _clear, _recalled,
     "number of the notice, remedy, badge or PIN"),
    ("recalling.rule_out", "end a recall's hold by the serial read on the case", "MAY_RELEASE", _rule_out, _recalled,
     "a serial outside the notice, badge or PIN"),
    ("recalling.withdraw_notice", "take a recall back that was entered wrongly", "MANAGER", _withdraw, _recalled,
     "a reason, badge or PIN"),
    ("deciding.decide", "decide to carry on or to replace", "RELEASE_OR_MANAGER", _decide(Choice.CARRY_ON), _watched,
     "a date; a pull is never carried on"),
    ("deciding.decide", "decide to re-check or to pull", "CHECK_OR_MANAGER", _decide(Choice.RECHECK), _watched, ""),
    ("extending.extend_due", "put a due check off", "RELEASE_OR_MANAGER", _extend, _allowed,
     "only where the site allows it; a reason; never what is held, pulled or too near to call"),
    ("extending.set_rule", "allow due checks to be put off", "MANAGER",
     lambda m, a, _r: extending.set_rule(m.store, m.clock, a, allowed=True, most_days=3), _nothing, ""),
    ("releasing.record_inspection", "look a vehicle, charger or meter over: good", "MAY_CHECK",
     lambda m, a, _r: releasing.record_inspection(m.store, m.clock, a, GOOD), _nothing, "it releases nothing"),
    ("releasing.record_inspection", "look a vehicle, charger or meter over: not good", "ANYONE",
     lambda m, a, _r: releasing.record_inspection(m.store, m.clock, a, BAD), _nothing, "it holds it"),
    ("competence.record_training", "record a training", "MANAGER", _train, _nothing, "nobody their own"),
    ("competence.put_contractor_meter", "put a contractor's meter on record", "RELEASE_OR_MANAGER", _meter, _nothing,
     "refused at the bench until calibrated or proved"),
    ("withholding.withhold_name", "print a leaver as initials", "MANAGER", _withhold, _leaver,
     "a reason; nobody their own name"),
)  # fmt: skip
