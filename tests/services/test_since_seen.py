"""What changed since a person last looked, whoever or whatever changed it."""

import datetime as dt
from dataclasses import replace

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg
from fleetcare.services import board, record, since_seen
from fleetcare.services.since_seen import SinceSeen
from fleetcare.ui.board.side import change_text
from tests.kestrel import MONDAY, SITE, Kestrel

BEFORE = since_seen.Before()


def look(kestrel: Kestrel, person: str = "HALE") -> SinceSeen:
    kept = board.Board(kestrel.store, kestrel.clock)
    fleet = kept.read()
    assert kept.facts is not None
    found = since_seen.since_seen(kestrel.store, kestrel.clock, person, fleet, kept.facts)
    again = since_seen.since_seen(kestrel.store, kestrel.clock, person, fleet, kept.facts, BEFORE)
    assert again == found, "what was kept of an earlier position is what is read anew"
    return found


def test_each_person_has_a_mark_of_their_own(kestrel: Kestrel) -> None:
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", look(kestrel).position)
    kestrel.now += dt.timedelta(minutes=30)
    kestrel.check("P-1002", "39.0", vehicle="EB-12")
    brake = Hold("vehicle", "CB-06", HoldClass.FAULT, kestrel.now, msg("ground.by_person"), "front brake")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("PIKE"), brake)
    found = look(kestrel)
    assert found.since == MONDAY
    assert [(one.vehicle, one.by) for one in found.changed] == [("CB-06", "Pike"), ("EB-12", "Dunn")]
    first = found.changed[1]
    assert first.was is not None and first.was.state is BoardState.READY and first.now.state is BoardState.GROUNDED
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", found.position)
    assert look(kestrel).changed == ()
    assert len(look(kestrel, "ORMOND").changed) == 2


def test_a_check_that_leaves_the_state_as_it_was_is_no_change(kestrel: Kestrel) -> None:
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", look(kestrel).position)
    kestrel.check("P-1002", "41.50", vehicle="EB-12")
    assert look(kestrel).changed == ()


def test_what_fell_due_overnight_is_a_change_that_nobody_made(kestrel: Kestrel) -> None:
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", look(kestrel).position)
    kestrel.now += dt.timedelta(days=4)
    found = look(kestrel).changed
    assert len(found) == 24 and {one.by for one in found} == {""}
    assert {one.now.state for one in found} == {BoardState.READY_BUT_DUE}


def test_a_rule_that_moves_the_due_day_is_a_change_of_every_vehicle_it_moves(kestrel: Kestrel) -> None:
    kestrel.now += dt.timedelta(days=4)
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", look(kestrel).position)
    kestrel.now += dt.timedelta(minutes=5)
    looser = replace(SITE, check_due_days=SITE.check_due_days + 7, grounded_after_days=SITE.grounded_after_days + 7)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("site_rules", looser))
    found = look(kestrel).changed
    assert len(found) == 24 and {one.by for one in found} == {"Ormond"} and all(one.by_rule for one in found)
    told = change_text(found[0])
    assert told.startswith(f"{found[0].vehicle}: ready, check due → ready (the site's rules changed by Ormond, "), told
    since_seen.mark_seen(kestrel.store, kestrel.clock, "HALE", look(kestrel).position)
    assert look(kestrel).changed == ()
