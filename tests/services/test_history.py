"""The history of one vehicle with a fire at the end, and the counting of due checks."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.away import BackAs, CameBack, SentToMaker
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import (
    CheckKind,
    FoundIn,
    Hold,
    HoldClass,
    LookOver,
    Release,
    RestBand,
    Trip,
    TripCause,
    VoltageCheck,
)
from fleetcare.domain.due import Fared, each_due
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.incidents import IncidentOpened
from fleetcare.domain.packs import PackStanding, SiteRules
from fleetcare.domain.procedures import Work
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.wording import msg, say
from fleetcare.services import (
    charging,
    history,
    incident_deeds,
    maker_returns,
    policy,
    proving,
    recalling,
    record,
    site_texts,
    summary,
)
from fleetcare.services.history_lines import Asked, History, Line
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, SITE, D, Kestrel, build

WEEK = dt.timedelta(days=7)
FIRE = MONDAY + dt.timedelta(days=3, hours=12)
YEAR = Asked("vehicle", "EB-14", dt.date(2026, 9, 1), dt.date(2026, 12, 31))


def with_a_fire(path: Path) -> Kestrel:
    """EB-14: weekly checks with a gap, another pack for a while, a correction, a lapsed training, then a fire."""
    made = build(path, checked_days_ago=56)
    start = MONDAY - dt.timedelta(days=56)
    for week in (1, 2, 5, 6):  # weeks 3 and 4 are missed
        made.check("P-1004", f"41.{50 - week}", at=start + week * WEEK, vehicle="EB-14")
    made.now = start + 6 * WEEK + dt.timedelta(hours=2)
    wrong = summary.pack_summary(made.store, made.clock, "P-1004").checks[0]
    right = VoltageCheck(
        "P-1004", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.34"), wrong.done_at, "M-01", "EB-14"
    )
    record.correct_check(made.store, made.clock, made.author(), wrong.record_id, "digits swapped", right)
    made.now = start + 6 * WEEK + dt.timedelta(days=1)
    author = made.author()
    record.record_found_in(made.store, made.clock, author, FoundIn("P-1004", None, made.now, shelf="Rack 2"))
    record.record_found_in(made.store, made.clock, author, FoundIn("P-1011", "EB-14", made.now))
    made.check("P-1011", "41.50", at=made.now, vehicle="EB-14")
    made.now = start + 7 * WEEK + dt.timedelta(days=3)
    record.record_found_in(made.store, made.clock, author, FoundIn("P-1011", None, made.now, shelf="Store"))
    made.check("P-1004", "41.30", at=made.now, vehicle="EB-14")
    lapsed = replace(made.people["FARROW"], level_until=MONDAY.date())
    record.put_things(made.store, made.clock, made.author("ORMOND"), ("person", lapsed))
    made.people["FARROW"] = lapsed
    trip = Trip("P-1004", "EB-14", made.now, TripCause.UNKNOWN, False, "on the hill")
    record.record_trip(made.store, made.clock, author, trip)
    made.now = FIRE
    for subject_class, code in (("pack", "P-1004"), ("vehicle", "EB-14")):
        hold = Hold(subject_class, code, HoldClass.DANGER, FIRE, msg("ground.by_person"), "smoke in the yard", "Q-1")
        record.set_hold(made.store, made.clock, made.author("FARROW"), hold)
    made.now = FIRE + dt.timedelta(hours=3)
    after = Hold(
        "vehicle", "EB-14", HoldClass.FAULT, FIRE - dt.timedelta(days=2), msg("ground.by_person"), "lead was loose"
    )
    record.set_hold(made.store, made.clock, made.author("PIKE"), after)
    return made


@pytest.fixture
def fire(tmp_path: Path) -> Kestrel:
    return with_a_fire(tmp_path / "fire.fleet")


def read(kestrel: Kestrel, asked: Asked) -> tuple[History, list[Line]]:
    with history.reading(kestrel.store, kestrel.clock, asked) as reading:
        return reading.whole(), list(reading.lines())


def test_the_summary_counts_what_the_adjuster_asks_first(fire: Kestrel) -> None:
    whole, lines = read(fire, YEAR)
    told = dict(whole.summary)
    assert told["Packs in it"] == "P-1004, P-1011"
    assert told["Corrections"].startswith("1 struck") and told["Trips"] == "1, of them 1 not explained"
    assert told["Entered late"].startswith("2 entered")
    assert "1 of them after a stop" in told["Entered late"]
    assert "Farrow (no competence recorded; level until 2 Nov 2026)" in told["People"]
    assert whole.lines == len(lines)


def test_gaps_stays_and_ends_are_told_with_their_doubt(fire: Kestrel) -> None:
    whole, _ = read(fire, YEAR)
    start = (MONDAY - dt.timedelta(days=56)).date()
    gaps = [say(gap) for gap in whole.gaps]
    assert any(
        "P-1004: a check was due 28 Sep 2026; none was done until 12 Oct 2026, 14 days later" in g for g in gaps
    ), gaps
    assert start == dt.date(2026, 9, 7)
    stays = [say(one) for one in whole.stays]
    assert "moved at an unknown time between the two" in stays[0] and stays[0].startswith(
        "P-1004, bay 1: from 3 Sep 2026"
    )
    assert stays[1].startswith("P-1011, bay 1: from 20 Oct 2026")
    assert stays[2].startswith("P-1004, bay 1: from 29 Oct 2026") and "still in it at the end" in stays[2]
    ends = [say(one) for one in whole.ends]
    assert "P-1011: on shelf Store, since 29 Oct 2026 06:30" in ends and any("EB-14: grounded" in one for one in ends)


def test_an_entry_made_after_the_fire_about_before_it_says_so(fire: Kestrel) -> None:
    _, lines = read(fire, YEAR)
    marked = [line for line in lines if line.after_stop]
    assert [line.person_name for line in marked] == ["Pike"]
    assert marked[0].notes[0] == "ENTERED AFTER THE STOP of 5 Nov 2026 18:30, about the time before it"
    by_done = [line.done_at for line in lines]
    assert by_done == sorted(by_done) and lines[-1].done_at == FIRE


def test_the_struck_value_stays_with_the_entry_that_struck_it(fire: Kestrel) -> None:
    _, lines = read(fire, YEAR)
    struck = next(line for line in lines if line.struck)
    right = next(line for line in lines if any(note.startswith("Corrects entry") for note in line.notes))
    assert "41.44 V" in struck.text and f"STRUCK by entry {right.position}: digits swapped" in struck.notes
    assert "41.34 V" in right.text and right.done_at == struck.done_at


def test_nothing_in_the_words_speaks_of_cause_or_blame() -> None:
    from fleetcare.domain.words import history as words

    text = " ".join(v for k, v in words.WORDS.items() if k != "history.purpose").lower()
    assert not any(one in text for one in ("because", "due to", "caused", "blame", "negligen", "at fault"))


def test_only_its_own_lines_while_a_pack_was_elsewhere(fire: Kestrel) -> None:
    _, lines = read(fire, YEAR)
    of_p1011 = [line.text for line in lines if "P-1011 check" in line.text]
    assert len(of_p1011) == 1
    _, own = read(fire, replace(YEAR, subject_class="pack", code="P-1011"))
    assert sum("P-1011 check" in line.text for line in own) == 2


def test_a_leaver_is_printed_as_initials_and_the_record_stands(fire: Kestrel) -> None:
    before = fire.store.verify().root_hex
    whole, lines = read(fire, replace(YEAR, withheld=frozenset({"PIKE"})))
    assert "Pike" not in str(whole.summary) and {line.person_name for line in lines} == {
        "Dunn",
        "Ormond",
        "Farrow",
        "P.",
    }
    assert fire.store.verify().root_hex == before


def test_a_lodging_stands_in_the_history(fire: Kestrel) -> None:
    with fire.store.view() as view:
        head = view.head()
    proving.lodge(fire.store, fire.clock, fire.author("ORMOND"), head, "mail", "broker")
    whole, _ = read(fire, YEAR)
    assert [say(one) for one in whole.lodgings] == [f"5 Nov 2026 21:30: {head.short} records with broker (mail)"]
    assert dict(whole.summary)["Fingerprint lodged"].endswith("period: 1")


def test_the_fleet_is_told_in_the_order_of_entry(fire: Kestrel) -> None:
    whole, lines = read(fire, Asked("fleet", "", dt.date(2026, 1, 1), dt.date(2026, 12, 31)))
    assert [line.position for line in lines] == list(range(1, whole.head.size + 1))


def test_a_period_backwards_and_an_unknown_code_are_refused(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="ends 1 Jan 2026, before it begins"):
        read(kestrel, Asked("pack", "P-1002", dt.date(2026, 2, 1), dt.date(2026, 1, 1)))
    for typed, words in (("", "Name a vehicle"), ("Z-9", "Z-9 is neither")):
        with pytest.raises(EntryRefused, match=words):
            history.subject_of(kestrel.store, typed)
    assert history.subject_of(kestrel.store, " eb-14 ") == ("vehicle", "EB-14")


DAY = dt.date(2026, 1, 1)
ALWAYS = (dt.date.min, dt.date.max)


# Due on the 7th day, passed after the 14th: the program's own rule (common practice, no source).
@pytest.mark.parametrize(
    ("after", "fate"),
    [
        (7, (1, 1, 0, 0)),
        (8, (1, 0, 1, 0)),
        (14, (1, 0, 1, 0)),
        (15, (2, 0, 1, 1)),
        (28, (3, 0, 1, 2)),
        (29, (4, 0, 1, 3)),
    ],
)
def test_a_check_on_the_due_day_is_in_time_and_after_the_fourteenth_missed(
    after: int, fate: tuple[int, int, int, int]
) -> None:
    done = DAY + dt.timedelta(days=after)
    found = [one.fared for one in each_due(DAY, [done], done, SiteRules(), ALWAYS)]
    assert (len(found), *(found.count(one) for one in (Fared.ON_TIME, Fared.LATE, Fared.MISSED))) == fate


@given(st.lists(st.integers(0, 120), max_size=20), st.integers(0, 120), st.integers(1, 20), st.integers(0, 30))
def test_each_due_day_that_passed_unmet_is_one_missed_check(days: list[int], until: int, every: int, more: int) -> None:
    site = SiteRules(check_due_days=every, grounded_after_days=every + more)
    end = DAY + dt.timedelta(days=until)
    checked = {DAY + dt.timedelta(days=d) for d in days}
    found = list(each_due(DAY, checked, end, site, ALWAYS))
    grace = dt.timedelta(days=more)
    assert [one.due_on for one in found] == sorted({one.due_on for one in found}), "each due day once, in order"
    for one in found:
        assert one.done_on is None or one.done_on in checked
        met = {day for day in checked if one.due_on - dt.timedelta(days=every) < day <= min(one.due_on + grace, end)}
        assert (one.fared is Fared.MISSED) == (not met and end > one.due_on + grace), one
        if one.fared is Fared.ON_TIME:
            assert min(met) <= one.due_on
    answered = [one.done_on for one in found if one.fared in (Fared.ON_TIME, Fared.LATE)]
    assert len(answered) == len(set(answered)), "one check answers one due day"
    assert sum(one.fared is Fared.OPEN for one in found) <= 1


def test_conditions_are_shown_while_they_are_in_force(kestrel: Kestrel) -> None:
    author = kestrel.author("ORMOND")
    for text, first, last in (("old", DAY, dt.date(2026, 8, 31)), ("new", dt.date(2026, 9, 1), None)):
        policy.record_condition(
            kestrel.store, kestrel.clock, author, text=text, policy="12-3", from_date=first, to_date=last,
            shown_by="nothing",
        )  # fmt: skip
    asked = Asked("pack", "P-1002", dt.date(2026, 9, 1), dt.date(2026, 12, 31))
    whole, _ = read(kestrel, asked)
    assert [(say(a), say(b)) for a, b in whole.conditions] == [
        ("new (12-3, from 1 Sep 2026)", "Record: nothing here measures this.")
    ]
    whole, _ = read(kestrel, replace(asked, from_date=dt.date(2026, 8, 31)))
    assert len(whole.conditions) == 2
    for wrong, said in (
        ({"text": " "}, "as the policy states"),
        ({"to_date": dt.date(2025, 1, 1)}, "before it begins"),
    ):
        known = {"text": "x", "policy": "p", "from_date": DAY, "to_date": None, "shown_by": "checks"}
        with pytest.raises(EntryRefused, match=said):
            policy.record_condition(kestrel.store, kestrel.clock, author, **(known | wrong))


def test_a_pack_out_of_service_owes_no_checks(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        pack = view.thing("pack", "P-1012")
    kestrel.now += dt.timedelta(days=2)
    gone = replace(pack, standing=PackStanding.RETIRED)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", gone))
    kestrel.now += dt.timedelta(days=60)
    asked = Asked("pack", "P-1012", dt.date(2026, 10, 1), dt.date(2027, 1, 31))
    whole, _ = read(kestrel, asked)
    assert not any("none was done up to" in say(gap) for gap in whole.gaps)
    other, _ = read(kestrel, replace(asked, code="P-1013"))
    told = "8 checks in a row were missed, due 6 Nov 2026 to 25 Dec 2026; none was done up to 3 Jan 2027"
    assert told in say(other.gaps[-1])


def test_a_pack_owes_no_checks_while_it_is_at_its_maker_or_stolen(kestrel: Kestrel) -> None:
    sent = SentToMaker("P-1011", kestrel.now, "Northfield", "RN-1", "carrier", (MONDAY + dt.timedelta(days=21)).date())
    maker_returns.record_sent(kestrel.store, kestrel.clock, kestrel.author(), sent)
    kestrel.now = MONDAY + dt.timedelta(days=30)
    still = read(kestrel, Asked("pack", "P-1011", dt.date(2026, 11, 1), dt.date(2026, 12, 31)))[0]
    assert still.gaps == ()
    back = CameBack("P-1011", kestrel.now, BackAs.REPAIRED, "REP-1", "display")
    maker_returns.record_back(kestrel.store, kestrel.clock, kestrel.author(), back, "Rack 1")
    kestrel.now += dt.timedelta(days=1)
    kestrel.check("P-1011", "41.60")
    whole, lines = read(kestrel, Asked("pack", "P-1011", dt.date(2026, 11, 1), dt.date(2026, 12, 31)))
    assert whole.gaps == ()
    told = " ".join(line.text for line in lines)
    assert "sent to Northfield, return number RN-1" in told and "back from its maker, repaired" in told


def test_a_rule_loosened_after_the_fire_is_said_and_makes_no_gap_disappear(fire: Kestrel) -> None:
    before, _ = read(fire, YEAR)
    looser = replace(
        SITE,
        check_due_days=30,
        grounded_after_days=60,
        minimum_rest_minutes=90,
        sources=(("check_due_days", "quiet season"),),
    )
    record.put_things(fire.store, fire.clock, fire.author("ORMOND"), ("site_rules", looser))
    after, _ = read(fire, YEAR)
    assert after.gaps == before.gaps and dict(after.summary)["Checks"] == dict(before.summary)["Checks"]
    told = [say(one) for one in after.settings]
    assert any(
        one.startswith(
            "LOOSENED 5 Nov 2026 21:30: Kestrel Wharf, check due days: 7 days → 30 days, source: quiet season, entry"
        )
        for one in told
    )
    assert any("minimum rest minutes: 60 minutes → 90 minutes" in one and "LOOSENED" not in one for one in told)
    assert before.settings == ()


def test_procedures_in_force_are_named_with_their_changes_and_texts(fire: Kestrel) -> None:
    text = "Wipe the contacts first."
    site_texts.record_site_text(fire.store, fire.clock, fire.author("ORMOND"), "KW", Work.CHECK, text)
    fire.check("P-1004", "41.20", vehicle="EB-14")
    whole, lines = read(fire, YEAR)
    assert lines[-1].procedure == "check 1 + KW 1"
    told = [say(one) for one in whole.procedures]
    assert told[0].startswith("Voltage check, version 1: jobs 8, first 7 Sep 2026, last 29 Oct 2026")
    assert (
        told[1].startswith("Voltage check, version 1 + KW 1: jobs 1")
        and "KW changed its text for Voltage check" in told[2]
    )
    assert [steps for head, steps in whole.texts][-1] == (text,)


def test_an_incident_marks_later_entries_and_its_items_are_held(fire: Kestrel) -> None:
    opened = IncidentOpened("", "fire in the yard", "yard", FIRE, (("vehicle", "EB-14"), ("pack", "P-1004")))
    incident_deeds.open_incident(fire.store, fire.clock, fire.author(), opened)
    fire.now += dt.timedelta(hours=1)
    late = Trip("P-1004", "EB-14", FIRE - dt.timedelta(days=1), TripCause.UNKNOWN, False)
    record.record_trip(fire.store, fire.clock, fire.author(), late)
    whole, lines = read(fire, YEAR)
    assert "Records held of EB-14, P-1004" in say(whole.incidents[0])
    marked = [line for line in lines if line.after_incident]
    assert any("tripped" in line.text and "about the time before it" in line.notes[1] for line in marked)
    assert dict(whole.summary)["Incidents"].startswith("1; entries made after one and marked:")
    with fire.store.view() as view:
        pack = view.thing("pack", "P-1004")
    for changed in (replace(pack, standing=PackStanding.WRITTEN_OFF), replace(pack, serial="X")):
        with pytest.raises(EntryRefused, match="held by incident I-2026-001"):
            record.put_things(fire.store, fire.clock, fire.author("ORMOND"), ("pack", changed))


def test_a_recall_is_named_with_the_packs_held_for_it_and_its_end(fire: Kestrel) -> None:
    number = "SN-26-014"
    assert not read(fire, YEAR)[0].recalls
    made = RecallNotice(number, ("K36-A",), "", "", fire.now, maker="the maker", remedy="replacement pack")
    recalling.enter_notice(fire.store, fire.clock, fire.author("ORMOND"), made)
    whole, lines = read(fire, YEAR)
    assert len(whole.recalls) == 1 and "Remedy done or ruled out for: none of them." in say(whole.recalls[0])
    held = {line.body.subject for line in lines if "the maker's notice means" in line.text}  # type: ignore[attr-defined]
    assert held and all(code in say(whole.recalls[0]) for code in held)
    recalling.withdraw_notice(fire.store, fire.clock, fire.author("ORMOND"), number, "entered wrongly", "B-05")
    assert "entered wrongly" in say(read(fire, YEAR)[0].recalls[0])


def test_a_check_names_the_charger_of_the_last_charge_and_a_late_sighting_is_told(fire: Kestrel) -> None:
    day = dt.timedelta(days=1)
    fire.now = MONDAY
    charging.record_charge(
        fire.store, fire.clock, fire.author(), ChargedOn("P-1011", "C-36-2", MONDAY - day, "shed")
    )  # fmt: skip
    fire.check("P-1011", "41.50", at=MONDAY)
    look = LookOver("P-1012", MONDAY - 20 * day, "EB-14")
    record.record_found_in(
        fire.store, fire.clock, fire.author(), FoundIn("P-1012", None, MONDAY - day, shelf="Store")
    )  # fmt: skip
    with fire.store.transaction() as tx:
        Writer(tx, fire.author(), MONDAY).add("look_over", look, look.done_at)
    _, lines = read(fire, replace(YEAR, subject_class="pack", code="P-1011"))
    assert any("last charge on C-36-2, 1 Nov 2026" in line.text for line in lines)
    assert any("charger not recorded" in line.text for line in lines)
    whole, _ = read(fire, YEAR)
    assert dict(whole.summary)["Packs in it"] == "P-1004, P-1011, P-1012"
    assert any(say(one).startswith("P-1012: named in EB-14 by entries of 13 Oct 2026") for one in whole.stays)


def test_a_release_names_what_was_released(fire: Kestrel) -> None:
    """A line of a fleet's history that says only "released" would leave an adjuster asking what."""
    brake = Hold("vehicle", "CB-06", HoldClass.ACTION_DUE, fire.now, msg("ground.by_person"), "brake")
    record.set_hold(fire.store, fire.clock, fire.author("HALE"), brake)
    fire.now += dt.timedelta(hours=1)
    with fire.store.view() as view:
        (held,) = view.open_holds(("vehicle", "CB-06"))
    release = Release(held.hold_id, fire.now, "ride tested")
    record.release_hold(fire.store, fire.clock, fire.author("PIKE"), release)
    for subject in (("vehicle", "CB-06"), ("fleet", "")):
        _, lines = read(fire, Asked(*subject, YEAR.from_date, YEAR.to_date))
        assert [line.text for line in lines if "released" in line.text] == ["CB-06 released: ride tested"]
