"""An incident holds records: later entries are marked, nothing is tidied, a manager closes it.

The wanted behaviour (entries about the past made after an event are visibly so; nothing is archived under a
legal hold) is common practice of records management, no source.
"""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.incidents import Incident, IncidentOpened
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.wording import msg, say
from fleetcare.services import incident_deeds, record, summary, telling
from fleetcare.services.incidents import incident_lines, incidents_touching, made_after
from tests.kestrel import MONDAY, Kestrel

NIGHT = MONDAY - dt.timedelta(hours=9, minutes=10)


def open_one(kestrel: Kestrel, *, hold_items: bool = False, by: str = "HALE") -> str:
    opened = IncidentOpened(
        "", "smoke at the rack", "charging room", NIGHT, (("pack", "P-1006"), ("vehicle", "EB-16"), ("charger", "C-36-3")),
        ("PIKE",), "the night guard",
    )  # fmt: skip
    done = incident_deeds.open_incident(kestrel.store, kestrel.clock, kestrel.author(by), opened, hold_items=hold_items)
    return str(done.message.value("incident"))


def pack(kestrel: Kestrel, code: str) -> summary.PackSummary:
    return summary.pack_summary(kestrel.store, kestrel.clock, code)


def test_later_entries_show_on_the_page_and_earlier_ones_do_not(kestrel: Kestrel) -> None:
    code = open_one(kestrel)
    assert code == "I-2026-001"
    kestrel.now = MONDAY + dt.timedelta(hours=2)
    kestrel.check("P-1006", "41.60", vehicle="EB-16")
    late = NIGHT - dt.timedelta(hours=3)
    hold = Hold("pack", "P-1006", HoldClass.FAULT, late, msg("hold.by_person"), "had smelt odd")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("PIKE"), hold)
    page = pack(kestrel, "P-1006")
    newest, oldest = page.checks[0], page.checks[-1]
    assert telling.entry_note(newest) == "entered after incident I-2026-001 of 1 Nov 2026 21:20"
    assert oldest.incident is None
    texts = [telling.line_text(line) for line in page.events]
    assert any("had smelt odd" in text and "I-2026-001 of 1 Nov 2026 21:20, about the time before it" in text
               for text in texts)  # fmt: skip
    vehicle = summary.vehicle_page(kestrel.store, kestrel.clock, "EB-16")
    assert any(line.text.key == "event.incident_opened" for line in vehicle.events)
    assert all(line.incident is None for line in pack(kestrel, "P-1007").events)
    (line,) = incident_lines(kestrel.store, kestrel.clock)
    assert line.since == 2 and line.persons == ("Pike",)


def test_a_check_of_another_pack_in_the_named_vehicle_is_marked_too(kestrel: Kestrel) -> None:
    open_one(kestrel)
    kestrel.now = MONDAY + dt.timedelta(hours=1)
    kestrel.check("P-1007", "41.60", vehicle="EB-17")
    assert pack(kestrel, "P-1007").checks[0].incident is None
    from fleetcare.domain.checks import FoundIn

    moves = (FoundIn("P-1006", None, kestrel.now, shelf="Q-1"), FoundIn("P-1011", "EB-16", kestrel.now))
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), *moves)
    kestrel.check("P-1011", "41.60", vehicle="EB-16")
    assert pack(kestrel, "P-1011").checks[0].incident is not None


def test_nothing_named_is_retired_written_off_or_renamed_while_it_is_open(kestrel: Kestrel) -> None:
    from dataclasses import replace

    code = open_one(kestrel)
    store, clock, author = kestrel.store, kestrel.clock, kestrel.author("ORMOND")
    known = pack(kestrel, "P-1006").pack
    for change in ({"standing": PackStanding.RETIRED}, {"standing": PackStanding.WRITTEN_OFF}, {"serial": "2403-0999"},
                   {"model": "K48-B"}, {"date_code": "2403"}):  # fmt: skip
        with pytest.raises(EntryRefused) as refused:
            record.put_things(store, clock, author, ("pack", replace(known, **change)))
        assert refused.value.message.key == "incident.held"
    record.put_things(store, clock, author, ("pack", replace(known, shelf="Q-1", note="in the steel box")))
    with pytest.raises(NotAllowed, match="manager"):
        incident_deeds.close_incident(store, clock, kestrel.author("DUNN"), code, "insurer has seen it", "B-01")
    with pytest.raises(NotAllowed, match="badge"):
        incident_deeds.close_incident(store, clock, author, code, "insurer has seen it", "B-01")
    with pytest.raises(EntryRefused):
        incident_deeds.close_incident(store, clock, author, code, " ", "B-05")
    incident_deeds.close_incident(store, clock, author, code, "insurer has seen it", "B-05")
    record.put_things(store, clock, author, ("pack", replace(known, standing=PackStanding.RETIRED)))
    with pytest.raises(EntryRefused):
        incident_deeds.close_incident(store, clock, author, code, "again", "B-05")


def test_as_of_an_earlier_position_there_was_no_incident(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    open_one(kestrel)
    with kestrel.store.view(before) as view:
        assert incidents_touching(view, ("pack", "P-1006")) == ()
    with kestrel.store.view() as view:
        (one,) = incidents_touching(view, ("charger", "C-36-3"))
    assert one.open and one.happened_at == NIGHT


def test_opening_can_hold_the_named_things_and_a_wider_one_names_more(kestrel: Kestrel) -> None:
    code = open_one(kestrel, hold_items=True)
    held = {(h.subject_class, h.subject) for h in held_now(kestrel)}
    assert held == {("pack", "P-1006"), ("vehicle", "EB-16"), ("charger", "C-36-3")}
    widen = incident_deeds.widen_incident
    widen(kestrel.store, kestrel.clock, kestrel.author(), code, (("pack", "P-1007"),), "stood beside it")
    assert ("pack", "P-1007") in {(h.subject_class, h.subject) for h in held_now(kestrel)}
    with pytest.raises(EntryRefused):
        widen(kestrel.store, kestrel.clock, kestrel.author(), code, (("pack", "P-1007"),), "again")


def held_now(kestrel: Kestrel) -> list:
    with kestrel.store.view() as view:
        return view.open_holds()


def test_codes_and_people_as_typed(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        assert incident_deeds.items_of(view, "p-1006, EB-16;C-36-3 P-1006") == (
            ("pack", "P-1006"), ("vehicle", "EB-16"), ("charger", "C-36-3"),
        )  # fmt: skip
        assert incident_deeds.persons_of(view, "Pike; b-01") == ("PIKE", "DUNN")
        with pytest.raises(EntryRefused, match="P-9999"):
            incident_deeds.items_of(view, "P-1006 P-9999")
        with pytest.raises(EntryRefused, match="Nobody Known"):
            incident_deeds.persons_of(view, "Pike, Nobody Known")


@given(
    opened=st.integers(10, 50), length=st.one_of(st.none(), st.integers(1, 30)), position=st.integers(1, 90),
    hours=st.integers(-48, 48),
)  # fmt: skip
def test_which_entries_are_marked(opened: int, length: int | None, position: int, hours: int) -> None:
    closed = None if length is None else opened + length
    one = Incident("0" * 32, "I-2026-001", "w", "d", MONDAY, MONDAY, "PIKE", opened, (("pack", "P-1", opened),),
                   closed_position=closed)  # fmt: skip
    done_at = MONDAY + dt.timedelta(hours=hours)
    marked = made_after((one,), position, done_at) is not None
    while_open = position > opened and (closed is None or position < closed)
    late_about_before = position > opened and done_at <= MONDAY
    assert marked is (while_open or late_about_before)
    if marked:
        said = say(made_after((one,), position, done_at))  # type: ignore[arg-type]
        assert ("about the time before it" in said) is (done_at <= MONDAY)


@pytest.mark.parametrize(("typed", "told"), [
    ("2026-10-20 14:05", "2026-10-20T14:05:00+01:00"), ("2026-11-02 06:05", "2026-11-02T06:05:00+00:00"),
    ("2026-10-20T14:05+02:00", "2026-10-20T13:05:00+01:00"), ("", "2026-11-02T06:30:00+00:00"),
])  # fmt: skip
def test_when_it_happened_is_read_on_the_depots_clock_of_that_day(kestrel: Kestrel, typed: str, told: str) -> None:
    """London's clock is at UTC+1 until 25 Oct 2026 (IANA tz database)."""
    with kestrel.store.view() as view:
        assert incident_deeds.happened_at(view, typed, kestrel.now).isoformat() == told
        with pytest.raises(EntryRefused, match="not a date and time"):
            incident_deeds.happened_at(view, "yesterday", kestrel.now)
