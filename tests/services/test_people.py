"""Who may do what, and who is who: enforced by the record, not by the window.

Argon2id parameters are held against RFC 9106 section 4 (second recommended option: 3 passes, 64 MiB, 4 lanes,
128-bit salt, 256-bit tag); the limit on guesses follows NIST SP 800-63B section 5.2.2 (at most 100 wrong in a row).
"""

import datetime as dt
from dataclasses import replace

import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.services import people, record
from fleetcare.services.session import Author
from tests.kestrel import PEOPLE, Kestrel


def put(kestrel: Kestrel, person: Person, by: str = "ORMOND", seen: int | None = None) -> None:
    author = replace(kestrel.author(by), seen_position=seen)
    people.put_person(kestrel.store, kestrel.clock, author, person)


def test_only_a_manager_changes_people_and_nobody_their_own_level(kestrel: Kestrel) -> None:
    raised = replace(PEOPLE["FARROW"], level=Level.MAY_RELEASE)
    with pytest.raises(NotAllowed, match="only a manager"):
        put(kestrel, raised, "FARROW")
    put(kestrel, raised)
    for change in ({"level": Level.MAY_RELEASE}, {"roles": (Role.MANAGER, Role.MECHANIC)}):
        with pytest.raises(NotAllowed, match="their own level"):
            put(kestrel, replace(PEOPLE["ORMOND"], **change))  # type: ignore[arg-type]
    put(kestrel, replace(PEOPLE["ORMOND"], badge="B-55"))


@pytest.mark.parametrize(("change", "field"), [
    ({"name": " "}, "name"), ({"badge": "B-01"}, "badge"), ({"badge": "nope"}, "badge"), ({"name": "dunn"}, "name"),
])  # fmt: skip
def test_a_badge_or_name_is_one_persons(kestrel: Kestrel, change: dict[str, str], field: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        put(kestrel, replace(Person("NEW", "Newman", (Role.MECHANIC,), badge="B-09"), **change))  # type: ignore[arg-type]
    assert refused.value.field == field


def test_a_level_taken_away_counts_at_once_for_somebody_still_signed_in(kestrel: Kestrel) -> None:
    put(kestrel, replace(PEOPLE["DUNN"], level=Level.NONE))
    with pytest.raises(NotAllowed, match="may check"):
        kestrel.check("P-1002", "41.40", vehicle="EB-12")


def test_a_role_claimed_by_the_window_but_not_on_record_is_worth_nothing(kestrel: Kestrel) -> None:
    forged = Author(replace(PEOPLE["FARROW"], roles=(Role.MANAGER,), level=Level.MAY_RELEASE), "BENCH-1")
    with pytest.raises(NotAllowed, match="only a manager"):
        people.put_person(kestrel.store, kestrel.clock, forged, PEOPLE["PIKE"])
    with kestrel.store.view() as view, pytest.raises(NotAllowed, match="may reset and release"):
        people.may(view, forged, kestrel.now, Level.MAY_RELEASE)


def test_two_changes_of_one_person_do_not_overwrite_each_other(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        seen = view.position
    put(kestrel, Person("NEW", "Newman", (Role.MANAGER,), badge="B-09"))
    put(kestrel, replace(PEOPLE["PIKE"], badge="B-77"), seen=seen)
    kestrel.people["NEW"] = Person("NEW", "Newman", (Role.MANAGER,), badge="B-09")
    with pytest.raises(EntryRefused, match=r"PIKE was changed by Ormond at 2 Nov 2026 06:30"):
        put(kestrel, replace(PEOPLE["PIKE"], badge="B-78"), "NEW", seen)
    with pytest.raises(EntryRefused, match="was changed by Ormond"):
        author = replace(kestrel.author("NEW"), seen_position=seen)
        record.put_things(kestrel.store, kestrel.clock, author, ("person", PEOPLE["PIKE"]))


def test_people_are_found_by_badge_code_or_name_and_never_guessed(kestrel: Kestrel) -> None:
    find = people.find_person
    assert {find(kestrel.store, typed).code for typed in ("b-01", "Dunn", "du", "DUNN")} == {"DUNN"}
    put(kestrel, Person("DUNNE", "Dunne", (Role.MECHANIC,)))
    assert find(kestrel.store, "Dunn").code == "DUNN"
    with pytest.raises(EntryRefused, match="Dunn, Dunne"):
        find(kestrel.store, "dun")
    with pytest.raises(EntryRefused, match=r"Nothing was scanned or typed. Known: Dunn, Dunne, Farrow"):
        find(kestrel.store, "")
    with pytest.raises(EntryRefused, match="nobody"):
        find(kestrel.store, "Quill")


def test_a_pin_is_kept_only_as_an_argon2id_hash_beside_the_records(kestrel: Kestrel) -> None:
    people.set_pin(kestrel.store, kestrel.clock, kestrel.author(), "DUNN", "4071")
    with kestrel.store.view() as view:
        kept = view.pin_hash("DUNN")
        last = view.record_at(view.position)
    assert kept is not None and kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    salt, tag = kept.split("$")[4:]
    assert len(salt) * 6 // 8 >= 16 and len(tag) * 6 // 8 >= 32
    assert last is not None and last.kind == "pin_changed" and "4071" not in repr(last) and kept not in repr(last)
    gate = people.PinGate(kestrel.store, kestrel.clock)
    gate.check(PEOPLE["DUNN"], "4071")
    gate.check(PEOPLE["PIKE"], "")
    with pytest.raises(EntryRefused, match="not the PIN of Dunn"):
        gate.check(PEOPLE["DUNN"], "4072")
    people.set_pin(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "DUNN", None)
    gate.check(PEOPLE["DUNN"], "")
    assert kestrel.store.verify().good


@pytest.mark.parametrize("pin", ["", "123", "12a4", "1234567890123", "1111", "2345", "9876", "١٢٣٤"])
def test_a_pin_that_is_no_pin_or_guessed_first_is_refused(kestrel: Kestrel, pin: str) -> None:
    with pytest.raises(EntryRefused):
        people.set_pin(kestrel.store, kestrel.clock, kestrel.author(), "DUNN", pin)


def test_only_oneself_or_a_manager_sets_a_pin(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="Only Pike or a manager"):
        people.set_pin(kestrel.store, kestrel.clock, kestrel.author("DUNN"), "PIKE", "4071")


def test_guessing_is_slowed_down_and_a_day_allows_fewer_than_a_hundred_guesses(kestrel: Kestrel) -> None:
    people.set_pin(kestrel.store, kestrel.clock, kestrel.author(), "DUNN", "4071")
    gate = people.PinGate(kestrel.store, kestrel.clock)
    gate._wrong["DUNN"] = (3, kestrel.now)
    with pytest.raises(EntryRefused, match="Wait 5 seconds"):
        gate.check(PEOPLE["DUNN"], "4071")
    kestrel.now += dt.timedelta(seconds=6)
    gate.check(PEOPLE["DUNN"], "4071")
    waits = [min(5 * 2**n, people.LONGEST_WAIT_S) for n in range(100)]
    assert sum(waits) > 86_400


def test_limits_models_and_people_are_a_managers_to_change_whatever_deed_is_used(kestrel: Kestrel) -> None:
    from tests.kestrel import K36, SITE

    for thing in (
        ("site_rules", replace(SITE, grounded_after_days=99)),
        ("pack_model", K36),
        ("person", PEOPLE["PIKE"]),
    ):
        with pytest.raises(NotAllowed, match="manager"):
            record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"), thing)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("site_rules", SITE))
    own = replace(PEOPLE["ORMOND"], level=Level.MAY_RELEASE)
    with pytest.raises(NotAllowed, match="own level"):
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", own))
