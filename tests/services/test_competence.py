"""Levels and trainings by the day, who records them, the matrix, and a contractor's meter."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.competence import SOON_DAYS, State, meter_counts, runs_out, state_of
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Meter, Person, Role, Training
from fleetcare.domain.proving import MeterProof
from fleetcare.services import competence, record, summary
from fleetcare.services.session import Author
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, Kestrel

TODAY = MONDAY.date()
DAY = dt.timedelta(days=1)
FUSES = Training("Fuse work", TODAY - 300 * DAY, TODAY + 30 * DAY, Level.MAY_RELEASE, "course 12")


def train(kestrel: Kestrel, person: str, training: Training, by: str = "ORMOND") -> None:
    competence.record_training(kestrel.store, kestrel.clock, kestrel.author(by), person, training)


@given(
    st.sampled_from([Level.NONE, Level.MAY_CHECK, Level.MAY_RELEASE]),
    st.lists(st.tuples(st.sampled_from([Level.NONE, Level.MAY_CHECK, Level.MAY_RELEASE]), st.integers(-40, 40)), max_size=4),
    st.one_of(st.none(), st.integers(-40, 40)),
)  # fmt: skip
def test_competence_ends_on_the_day_and_never_grows(
    granted: Level, trained: list[tuple[Level, int]], until: int | None
) -> None:
    trainings = tuple(
        Training(f"item {n}", TODAY - 100 * DAY, TODAY + end * DAY, level) for n, (level, end) in enumerate(trained)
    )
    person = Person("RAY", "Ray", (Role.MECHANIC,), granted, None if until is None else TODAY + until * DAY,
                    trainings=trainings)  # fmt: skip
    order = list(Level)
    ended = [level for level, end in trained if end <= 0 and level is not Level.NONE]
    expected = granted
    for level in ended:
        expected = min(expected, order[order.index(level) - 1], key=order.index)
    if until is not None and until <= 0:
        expected = Level.NONE
    assert person.level_on(TODAY) is expected
    ends = runs_out(person, TODAY)
    if ends is not None:
        assert person.level_on(ends.on - DAY) is expected and person.level_on(ends.on) is ends.left


def test_a_renewed_training_counts_and_the_older_one_does_not() -> None:
    old = Training("Fuse work", TODAY - 800 * DAY, TODAY - 70 * DAY, Level.MAY_RELEASE)
    person = Person("RAY", "Ray", (), Level.MAY_RELEASE, trainings=(old, FUSES))
    assert person.level_on(TODAY) is Level.MAY_RELEASE
    assert replace(person, trainings=(FUSES, old)).level_on(TODAY) is Level.MAY_RELEASE
    assert replace(person, trainings=(old,)).level_on(TODAY) is Level.MAY_CHECK


@given(st.integers(-100, 100))
def test_sixty_days_are_soon_and_the_day_itself_is_out(days: int) -> None:
    state = state_of(TODAY + days * DAY, TODAY)
    assert state is (State.EXPIRED if days <= 0 else State.SOON if days <= SOON_DAYS else State.VALID)


def test_an_expired_training_takes_the_level_and_the_deed_keeps_the_level_of_its_day(kestrel: Kestrel) -> None:
    train(kestrel, "DUNN", replace(FUSES, expires_on=TODAY + 2 * DAY))
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    kestrel.now = MONDAY + 2 * DAY
    kestrel.check("P-1002", "41.61", vehicle="EB-12")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert [line.level for line in page.checks[:2]] == ["may_check", "may_release"]
    board = summary.fleet_summary(kestrel.store, kestrel.clock)
    assert board is not None
    from fleetcare.services import facts

    with kestrel.store.view() as view:
        assert facts.releasers(facts.read_facts(view), kestrel.now.date()) == ("Pike",)


def test_nobody_records_their_own_and_only_a_manager_records_any(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="manager"):
        train(kestrel, "FARROW", FUSES, by="DUNN")
    with pytest.raises(NotAllowed, match="another manager"):
        train(kestrel, "ORMOND", FUSES)
    own = replace(kestrel.people["ORMOND"], trainings=(FUSES,))
    with pytest.raises(NotAllowed, match="own level"):
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", own))
    for wrong, field in (
        (replace(FUSES, item=" "), "item"), (replace(FUSES, done_on=TODAY + DAY), "done_on"),
        (replace(FUSES, expires_on=FUSES.done_on), "expires_on"),
    ):  # fmt: skip
        with pytest.raises(EntryRefused) as refused:
            train(kestrel, "DUNN", wrong)
        assert refused.value.field == field


def test_the_matrix_marks_what_runs_out(kestrel: Kestrel) -> None:
    train(kestrel, "DUNN", FUSES)
    train(kestrel, "PIKE", replace(FUSES, expires_on=TODAY + 200 * DAY))
    train(kestrel, "FARROW", Training("Bench check", TODAY - 10 * DAY))
    matrix = competence.matrix(kestrel.store, kestrel.clock)
    assert matrix.items == ("Bench check", "Fuse work")
    rows = {row.person.code: row for row in matrix.rows}
    assert [cell.state for cell in rows["DUNN"].cells] == [None, State.SOON]
    assert rows["PIKE"].cells[1].state is State.VALID and rows["FARROW"].cells[0].state is State.NO_END
    assert rows["DUNN"].next_end is not None and rows["DUNN"].next_end.left is Level.MAY_CHECK
    assert [row.person.code for row in matrix.soon] == ["DUNN"]
    kestrel.now = MONDAY + 30 * DAY
    rows = {row.person.code: row for row in competence.matrix(kestrel.store, kestrel.clock).rows}
    assert rows["DUNN"].cells[1].state is State.EXPIRED and rows["DUNN"].expired


def test_as_of_an_earlier_position_the_training_was_not_there(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    train(kestrel, "DUNN", FUSES)
    assert competence.matrix(kestrel.store, kestrel.clock, before).items == ()


METER = Meter("X-01", "hand-held", D("0.5"), 2, D("0.01"), None, owner="Brook Electric")


@given(st.integers(-5, 60), st.one_of(st.none(), st.integers(-30, 30)))
def test_a_contractors_meter_counts_by_calibration_or_a_recent_proof(proved: int, calibrated: int | None) -> None:
    meter = replace(METER, calibration_due=None if calibrated is None else TODAY + calibrated * DAY)
    good = MONDAY - proved * DAY
    in_date = calibrated is not None and calibrated > 0
    assert meter_counts(meter, TODAY, good) is (in_date or 0 <= proved <= 30)
    assert meter_counts(meter, TODAY, None) is in_date
    assert meter_counts(replace(meter, owner=""), TODAY, None)


def test_a_contractor_reads_with_their_own_meter_once_it_is_proved(kestrel: Kestrel) -> None:
    guest = Person("REED", "Reed", (Role.MECHANIC,), Level.MAY_CHECK, TODAY + 60 * DAY, firm="Brook Electric")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", guest))
    with pytest.raises(NotAllowed):
        competence.put_contractor_meter(kestrel.store, kestrel.clock, kestrel.author("FARROW"), METER)
    competence.put_contractor_meter(kestrel.store, kestrel.clock, kestrel.author(), METER)
    kestrel.people["REED"] = guest
    with pytest.raises(EntryRefused, match="belongs to Brook Electric"):
        kestrel.check("P-1002", "41.60", vehicle="EB-12", meter="X-01", by="REED")
    assert not competence.matrix(kestrel.store, kestrel.clock).meters[0].usable
    proof = MeterProof("X-01", MONDAY, "standard", D("41.00"), D("0.01"), D("41.01"), None)
    with kestrel.store.transaction() as tx:
        Writer(tx, Author(kestrel.people["DUNN"], "BENCH-1"), MONDAY).add("meter_proof", proof, MONDAY)
    kestrel.now += dt.timedelta(minutes=10)
    kestrel.check("P-1002", "41.60", vehicle="EB-12", meter="X-01", by="REED")
    kestrel.now = MONDAY + 31 * DAY
    with pytest.raises(EntryRefused, match="belongs to Brook Electric"):
        kestrel.check("P-1002", "41.60", vehicle="EB-12", meter="X-01", by="REED")


def test_a_contractors_meter_needs_its_firm_its_accuracy_and_a_free_code(kestrel: Kestrel) -> None:
    for change, field in (
        ({"owner": " "}, "owner"), ({"code": "M-01"}, "meter"), ({"code": "7"}, "meter"),
        ({"accuracy_percent": D(0)}, "accuracy"), ({"digit_v": D(0)}, "accuracy"),
    ):  # fmt: skip
        with pytest.raises(EntryRefused) as refused:
            competence.put_contractor_meter(
                kestrel.store,
                kestrel.clock,
                kestrel.author(),
                replace(METER, **change),  # type: ignore[arg-type]
            )
        assert refused.value.field == field
