"""When will it be back: what the round plans for a vehicle of the board, in the board's words."""

import datetime as dt

from fleetcare.domain.wording import say
from fleetcare.services import board, rounds
from fleetcare.services.planned import Planned
from tests.kestrel import Kestrel


def told(kestrel: Kestrel, vehicle: str, planned: Planned) -> list[str]:
    line = next(one for one in board.whole(kestrel.store, kestrel.clock).vehicles if one.vehicle.code == vehicle)
    return [say(one) for one in planned.of(line)]


def test_day_and_person_are_the_rounds_and_a_check_takes_them_off(kestrel: Kestrel) -> None:
    planned = Planned(kestrel.store, kestrel.clock)
    assert told(kestrel, "EB-13", planned) == [], "a ready vehicle waits for nothing"
    kestrel.now += dt.timedelta(days=7)
    found = rounds.round_of(kestrel.store, kestrel.clock)
    (one,) = [one for one in (*found.today, *found.ahead) if one.item.key == "check:P-1003"]
    names = {hour.person: hour.name for hour in found.hours}
    assert told(kestrel, "EB-13", planned) == [
        f"Planned on the round: check of P-1003 on {one.day.day} Nov 2026, {names[one.person]}."
    ]
    kestrel.check("P-1003", "41.60", vehicle="EB-13")
    assert told(kestrel, "EB-13", planned) == []


def test_what_is_held_is_in_no_round_and_that_is_said(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "39.00", vehicle="EB-12")
    assert told(kestrel, "EB-12", Planned(kestrel.store, kestrel.clock)) == [
        "No day is planned for what holds it: the round plans checks and looks, not repairs and decisions."
    ]


def test_a_check_for_which_there_are_no_hours_is_said_to_have_none(kestrel: Kestrel) -> None:
    from fleetcare.domain.packs import Roster
    from fleetcare.services import plan_settings

    kestrel.now += dt.timedelta(days=20)
    for person in ("DUNN", "PIKE", "FARROW"):
        hours = Roster(person, "KW", (2, 0, 0, 0, 0, 0, 0) if person == "DUNN" else (0,) * 7)
        plan_settings.put_hours(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), hours)
    planned = Planned(kestrel.store, kestrel.clock)
    lines = board.whole(kestrel.store, kestrel.clock).vehicles
    said = [text for line in lines for text in told(kestrel, line.vehicle.code, planned)]
    assert any(text.startswith("The round has no hours for the check of P-") for text in said), said[:3]
