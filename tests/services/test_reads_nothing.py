"""A pack whose newest reading shows nothing is unknown everywhere until it is read again."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from fleetcare.domain.checks import HoldClass
from fleetcare.domain.decisions import Choice
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.status import BoardState, PackState, pack_words
from fleetcare.domain.wording import say
from fleetcare.services import board, deciding, summary
from fleetcare.services import decisions as read_decisions
from tests.kestrel import Kestrel, build_morning
from tests.services.test_board import line


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def ready_vehicle(kestrel: Kestrel) -> tuple[str, str]:
    """A ready vehicle of one pack, and that pack."""
    fleet = board.Board(kestrel.store, kestrel.clock).read()
    ready = [one for one in fleet.vehicles if one.status.state is BoardState.READY and len(one.packs) == 1]
    return ready[0].vehicle.code, ready[0].packs[0].code


def test_a_pack_that_reads_nothing_is_unknown_and_its_vehicle_is_grounded(morning: Kestrel) -> None:
    """0 V at contacts that are off says nothing about the cells (common practice, no source)."""
    vehicle, pack = ready_vehicle(morning)
    kept = board.Board(morning.store, morning.clock)
    kept.read()
    morning.check(pack, "0", vehicle=vehicle)
    for fleet in (kept.read(), board.Board(morning.store, morning.clock).read()):
        told = line(fleet, vehicle)
        assert told.status.state is BoardState.GROUNDED
        assert told.status.reasons[0].hold_class is HoldClass.UNKNOWN
        assert "reads nothing, 0.00 V" in say(told.status.reasons[0].text)
        assert "Wake it attended and read it again" in say(told.status.reasons[0].next_step)
        assert pack not in [offer.pack for one in fleet.vehicles for offer in one.offers]
    page = summary.pack_summary(morning.store, morning.clock, pack)
    assert page.status.state is PackState.SILENT and not page.status.usable
    assert say(pack_words(page.status)) == "reads nothing"
    assert page.status.due_on == morning.now.date()
    assert pack in [one.pack for one in summary.round_list(morning.store, morning.clock)]


def test_a_reading_with_volts_ends_it(morning: Kestrel) -> None:
    vehicle, pack = ready_vehicle(morning)
    morning.check(pack, "0", vehicle=vehicle)
    morning.now += dt.timedelta(minutes=1)
    morning.check(pack, "41.6", vehicle=vehicle)
    assert line(board.Board(morning.store, morning.clock).read(), vehicle).status.state is BoardState.READY


def test_a_spare_that_reads_nothing_is_offered_to_nobody(morning: Kestrel) -> None:
    fleet = board.Board(morning.store, morning.clock).read()
    spares = {offer.pack for one in fleet.vehicles for offer in one.offers}
    assert spares
    for pack in spares:
        morning.check(pack, "0")
    fleet = board.Board(morning.store, morning.clock).read()
    assert not spares & {offer.pack for one in fleet.vehicles for offer in one.offers}


def test_nobody_carries_on_a_pack_that_reads_nothing(morning: Kestrel) -> None:
    """The watch verdict before it asks no more: the pack is read again first."""
    vehicle, pack = ready_vehicle(morning)
    morning.check(pack, "40.9", vehicle=vehicle)
    with morning.store.view() as view:
        assert read_decisions.decision_of(view, pack, morning.now).question is not None
    morning.now += dt.timedelta(minutes=1)
    morning.check(pack, "0", vehicle=vehicle)
    with morning.store.view() as view:
        assert read_decisions.decision_of(view, pack, morning.now).question is None
        assert pack not in [one.pack for one in read_decisions.undecided(view, morning.now)]
    with pytest.raises(EntryRefused) as refused:
        deciding.decide(
            morning.store, morning.clock, morning.author("ORMOND"), pack, Choice.CARRY_ON,
            morning.now.date() + dt.timedelta(days=7),
        )  # fmt: skip
    assert refused.value.message.key == "decision.no_carry_on_silent"
