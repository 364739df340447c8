"""Written procedures, their versions, and the rules that a depot follows."""

from dataclasses import fields

import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Depot, Vehicle, VehicleKind
from fleetcare.domain.procedures import RuleSet, SiteText, Work, token, versions_in
from fleetcare.domain.records import ThingPut
from fleetcare.services import in_force, record, site_texts
from tests.kestrel import Kestrel


def put_text(kestrel: Kestrel, text: str, depot: str = "KW", work: Work = Work.CHECK, by: str = "ORMOND") -> None:
    site_texts.record_site_text(kestrel.store, kestrel.clock, kestrel.author(by), depot, work, text)


def kept(kestrel: Kestrel) -> str:
    with kestrel.store.view() as view:
        newest = view.checks_of("P-1002")[-1] if view.checks_of("P-1002") else None
        found = view.record_at(view.position)
    assert newest is not None and found is not None
    return str(found.body.procedure)


def test_every_kind_of_work_has_a_text_with_version_date_and_source() -> None:
    found = in_force.procedures()
    assert set(found) == set(Work)
    for many in found.values():
        assert [one.version for one in many] == list(range(1, len(many) + 1))
        assert [one.written for one in many] == sorted(one.written for one in many)
        assert all(one.steps and one.source for one in many)
    for cls in in_force.WORK_OF:
        assert any(field.name == "procedure" for field in fields(cls))


def test_a_text_keeps_its_date_in_every_fleet_but_a_demonstration(kestrel: Kestrel) -> None:
    newest = in_force.newest(Work.CHECK)
    with kestrel.store.view() as view:
        assert not kestrel.store.demo and in_force.as_dated(view, newest) == newest


def test_a_job_keeps_the_version_in_force_and_a_change_shows_in_the_next(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "41.50", vehicle="EB-12")
    assert kept(kestrel) == "check 1"
    put_text(kestrel, "Wipe the contacts before reading.")
    kestrel.check("P-1002", "41.51", vehicle="EB-12")
    assert kept(kestrel) == "check 1 + KW 1" and versions_in(kept(kestrel)) == ("check", "1 + KW 1", 1, "KW", 1)
    put_text(kestrel, "Wipe the contacts, then read twice.")
    kestrel.check("P-1002", "41.52", vehicle="EB-12")
    assert kept(kestrel) == "check 1 + KW 2"
    put_text(kestrel, "")
    kestrel.check("P-1002", "41.53", vehicle="EB-12")
    assert kept(kestrel) == "check 1" and kestrel.store.verify().good


def test_a_correction_keeps_a_version_and_another_depots_text_does_not_count(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    van = Vehicle("EB-99", VehicleKind.E_BIKE, "OT", 36, "K2")
    record.put_things(kestrel.store, kestrel.clock, author, ("depot", Depot("OT", "Other Yard")), ("vehicle", van))
    put_text(kestrel, "Only in the other yard.", depot="OT")
    done = kestrel.check("P-1002", "41.50", vehicle="EB-12")
    with kestrel.store.view() as view:
        assert in_force.depot_of(view, "EB-99", None) == "OT" and in_force.depot_of(view, None, "P-1002") == "KW"
        assert in_force.in_force(view, Work.CHECK, "EB-99") == "check 1 + OT 1"
        stored = view.check(done.record_ids[-1])
    assert stored is not None
    record.correct_check(
        kestrel.store, kestrel.clock, kestrel.author(), stored.record_id, "digits swapped", stored.check
    )  # fmt: skip
    with kestrel.store.view() as view:
        assert view.record_at(view.position).body.judged.procedure == "check 1"


def test_only_a_manager_changes_texts_and_rules_and_the_rule_is_named(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="recorded by a manager; Dunn"):
        put_text(kestrel, "x", by="DUNN")
    with pytest.raises(EntryRefused, match="4001 letters; 4000 fit"):
        put_text(kestrel, "x" * 4001)
    with pytest.raises(EntryRefused, match="Z9 is not a depot"):
        put_text(kestrel, "x", depot="Z9")
    put_text(kestrel, "x")
    with pytest.raises(EntryRefused, match="on record already"):
        put_text(kestrel, " x ")
    with pytest.raises(EntryRefused, match="changed meanwhile"):
        seen = SiteText("KW-check", "KW", "check", 9, "y")
        site_texts.record_site_text(
            kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "KW", Work.CHECK, "z", seen
        )  # fmt: skip
    thing = SiteText("KW-check", "KW", "check", 2, "y")
    with pytest.raises(NotAllowed):
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"), ("site_text", thing))


def test_a_depot_follows_a_set_of_rules_with_its_own_text(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    site_texts.record_rules(kestrel.store, kestrel.clock, author, "kw", RuleSet.UK, "No charging after 22:00.")
    (found,) = in_force.sheet_rules(kestrel.store, "quarantine", pack="P-1002")
    assert found.rules is RuleSet.UK and found.own == "No charging after 22:00."
    assert {one.rules for one in found.statements} == {RuleSet.UK} and all(one.source for one in found.statements)
    for rules in (RuleSet.UK, RuleSet.EU, RuleSet.US, RuleSet.AU):
        assert any("Fire: call" in one.statement for one in in_force.statements_of(rules, "quarantine"))
    with kestrel.store.view() as view:
        body = view.record_at(view.position).body
    assert isinstance(body, ThingPut) and body.thing == Depot("KW", "Kestrel Wharf", rules="UK", rules_text=found.own)


def test_the_kept_text_reads_back() -> None:
    assert versions_in(token(Work.QUARANTINE_LOOK, 3, None)) == ("quarantine_look", "3", 3, "", 0)
    own = SiteText("K W-check", "K-W", "check", 12, "x")
    assert versions_in(token(Work.CHECK, 10, own)) == ("check", "10 + K-W 12", 10, "K-W", 12)
    with pytest.raises(ValueError, match="invalid"):
        versions_in("check")
