"""The demonstration fleet: every state, never stale, its files written by their script."""

import datetime as dt
import re
import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import say
from fleetcare.resource_files import shipped
from fleetcare.services import demo, drafts, in_force, summary
from fleetcare.store.store import Store


@pytest.mark.parametrize("now", ["2026-11-25T10:00+00:00", "2027-03-29T01:30+01:00"])
def test_the_demonstration_shows_every_state_on_any_day(tmp_path: Path, now: str) -> None:
    def clock() -> dt.datetime:
        return dt.datetime.fromisoformat(now)

    said: list[str] = []
    assert demo.make_for_today(tmp_path / "demo.fleet", clock, said.append) and said
    assert not demo.make_for_today(tmp_path / "demo.fleet", clock, said.append)
    store = Store.open(tmp_path / "demo.fleet")
    fleet = summary.fleet_summary(store, clock)
    assert store.demo and fleet.demo
    assert all(fleet.counts[state] for state in BoardState)
    grounded = [
        line.status.reasons[0].hold_class for line in fleet.vehicles if line.status.state is BoardState.GROUNDED
    ]
    assert set(grounded) == set(HoldClass)
    offers = [offer for line in fleet.vehicles for offer in line.offers]
    assert offers and {offer.depot for offer in offers} == {"KW"}
    (left,) = drafts.offered(store, "PIKE", dt.UTC)
    assert left.own and left.typed is not None and "rested 54.33 V" in say(left.line), "Pike can go on with it"
    with store.view() as view:
        assert all(pack.depot for pack in view.things("pack").values() if pack.shelf)
        first = view.record_at(2)
        corrected = [c for code in view.codes("pack") for c in view.checks_of(code) if c.corrects]
    assert first is not None and (clock() - first.done_at).days > 14 * 30
    assert len(corrected) == 3
    resistance = summary.pack_summary(store, clock, "P-1008").projections[0]
    told = say(resistance.sentence)
    # planted: a step of 0.030 ohm at the usual bench 95 days ago, and a slow rise before and after it (make_demo_fleet.py)
    assert told.startswith("Rose by 0.0") and re.search(r"of this a step of 0\.0(2|3)\d Ω about ", told), told
    assert "No decline" not in told and " °C; at 25 °C, as learnt from its model, 0.1" in told
    assert resistance.level is not None and 0.180 < resistance.level < 0.195
    with store.view() as view:
        for many in in_force.procedures().values():
            assert all(in_force.as_dated(view, one).written <= first.done_at.date() for one in many)
    assert store.verify().good
    store.close()


def test_the_files_are_what_their_script_writes(tmp_path: Path) -> None:
    folder = shipped("demo_fleet")
    script = tmp_path / "make_demo_fleet.py"
    script.write_bytes((folder / "make_demo_fleet.py").read_bytes())
    subprocess.run([sys.executable, str(script)], check=True, capture_output=True)
    for name in ("checks.csv", "events.csv"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()
