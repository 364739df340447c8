"""A pack whose rested volts fall week after week among packs that keep still: projected, and none of its readings lost."""

import datetime as dt
from pathlib import Path

from fleetcare.domain.wording import say
from fleetcare.services.facts import read_facts
from fleetcare.services.fleet_outlook import outlook_of
from fleetcare.services.outlook import PackHistory, pack_projections
from tests.kestrel import MONDAY, D, build

CODES = ("P-1005", "P-1006", "P-1007", "P-1008")


def test_a_steep_slide_is_projected_from_all_its_readings(tmp_path: Path) -> None:
    made = build(tmp_path / "steep.fleet", checked_days_ago=58)
    for week in range(8):
        at = MONDAY - dt.timedelta(days=7 * (8 - week) - 1)
        for number, code in enumerate(CODES):
            steady = D("41.50") + D("0.01") * ((week * 3 + number) % 4)
            rested = steady if number else D("41.60") - D("0.14") * (week + 1)
            made.check(code, str(rested), loaded=str(rested - D("1.05")), at=at, bench="25")
    with made.store.view() as view:
        facts = read_facts(view)
        outlook = outlook_of(made.store, view, facts, MONDAY, at_position=False)
        histories = [PackHistory(c, facts.models[facts.packs[c].model], view.checks_of(c)) for c in CODES]
        volts = [one[1] for one in pack_projections(outlook, histories, facts.site, MONDAY)]
    made.store.close()
    steep, *others = volts
    assert steep.projected and not steep.left_out and steep.limit == 40.0 and steep.level is not None
    assert 40.48 - 0.20 < steep.level < 40.50  # six days after the newest reading, at 0.02 V a day
    assert steep.horizons[0].chance_beyond > 0.5 and steep.crossing_p50 is not None
    assert 7 < (steep.crossing_p50 - MONDAY.date()).days < 42
    assert say(steep.sentence).startswith("Reaches its limit of 40.00 V around ")
    assert all(say(one.sentence).startswith("No decline seen") for one in others)
