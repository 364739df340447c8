"""The fleet set up thing by thing: only by a manager, as appended records, with every change told; lists; first steps."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Chemistry, VehicleStanding
from fleetcare.domain.wording import say
from fleetcare.services import bays, first_steps, people, record, setting_up, vehicle_lists
from fleetcare.services.founding import found
from fleetcare.services.session import Author
from fleetcare.services.vehicle_lists import State
from fleetcare.store.store import Store
from tests.kestrel import Kestrel

Typed = dict[str, str]


def form(made: Kestrel, kind: str, code: str) -> Typed:
    return setting_up.form_page(made.store, kind, code).typed


def put(made: Kestrel, kind: str, typed: Typed, code: str = "", by: str = "ORMOND", seen: int | None = None) -> str:
    author = Author(made.people[by], "DESK", "typed", seen)
    return say(setting_up.record_thing(made.store, made.clock, author, kind, typed, code).message)


def test_a_change_is_a_new_record_and_both_stand_in_the_history(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.position
    told = put(kestrel, "charger", form(kestrel, "charger", "C-36-1") | {"tolerance_percent": "0.5"}, "C-36-1")
    assert told == "C-36-1: changes recorded: 1. What it was before stays in its history."
    page = setting_up.form_page(kestrel.store, "charger", "C-36-1")
    assert [one.first for one in page.versions] == [False, True] and page.position == before + 1
    assert say(page.versions[0].changes[0].told) == "Tolerance of the output: 1 % → 0.5 %"
    assert page.versions[0].person_name == "Ormond"
    assert kestrel.store.verify().good


def test_a_model_and_its_service_notes_are_one_form_and_one_act(kestrel: Kestrel) -> None:
    typed = form(kestrel, "pack_model", "K36-A") | {
        "fuse_a": "30", "fuse_dc_v": "58", "fuse_body": "type_c", "reset_note": "Draw the fuse.", "reset_by_fuse": "yes",
    }  # fmt: skip
    shown = setting_up.preview(kestrel.store, kestrel.clock, "pack_model", typed, "K36-A")
    assert [one for one, _ in shown.things] == ["pack_model", "service_notes"] and not shown.new
    assert "packs of K36-A on record" in say(shown.notices[0])
    put(kestrel, "pack_model", typed, "K36-A")
    with kestrel.store.view() as view:
        assert view.thing("service_notes", "K36-A").reset_by_fuse and view.thing("pack_model", "K36-A").fuse_a == 30
    names = {
        one.name
        for version in setting_up.form_page(kestrel.store, "pack_model", "K36-A").versions
        for one in version.changes
    }
    assert names == {"fuse_a", "fuse_dc_v", "fuse_body", "reset_note", "reset_by_fuse"}


def test_a_change_of_a_model_says_which_chargers_no_longer_belong_to_it(kestrel: Kestrel) -> None:
    typed = form(kestrel, "pack_model", "K36-A") | {"connector": "K9"}
    shown = setting_up.preview(kestrel.store, kestrel.clock, "pack_model", typed, "K36-A")
    assert sum("No longer paired" in say(one) for one in shown.notices) == 6


def test_only_a_manager_records_and_a_refusal_leaves_nothing(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.head()
    for who in ("DUNN", "FARROW", "HALE"):
        with pytest.raises(NotAllowed, match="recorded by a manager"):
            put(kestrel, "meter", form(kestrel, "meter", "M-01") | {"name": "x"}, "M-01", who)
    with kestrel.store.view() as view:
        assert view.head() == before


def test_nothing_changed_a_code_in_use_and_a_stale_form_are_refused(kestrel: Kestrel) -> None:
    typed = form(kestrel, "meter", "M-01")
    with pytest.raises(EntryRefused, match="Nothing differs"):
        put(kestrel, "meter", typed, "M-01")
    for code, what in (("M-01", "meter"), ("P-1002", "pack"), ("EB-12", "vehicle")):
        with pytest.raises(EntryRefused, match=f"as a {what}") as refused:
            put(kestrel, "meter", typed | {"code": code})
        assert refused.value.field == "code"
    seen = setting_up.form_page(kestrel.store, "meter", "M-01").position
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"),
                      ("meter", __import__("dataclasses").replace(_thing(kestrel, "meter", "M-01"), name="other")))  # fmt: skip
    with pytest.raises(EntryRefused, match="M-01"):
        put(kestrel, "meter", typed | {"name": "mine"}, "M-01", seen=seen)


def _thing(made: Kestrel, kind: str, code: str) -> object:
    with made.store.view() as view:
        return view.thing(kind, code)


def test_what_a_form_does_not_ask_stays(kestrel: Kestrel) -> None:
    from fleetcare.domain.packs import PairRule

    bays.put_rule(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "CB-01", PairRule(same_model=True, source="maker")
    )
    put(kestrel, "vehicle", form(kestrel, "vehicle", "CB-01") | {"serial": "WX1", "bay_place": "row 2"}, "CB-01")
    vehicle = _thing(kestrel, "vehicle", "CB-01")
    assert vehicle.pair_rule.same_model and vehicle.standing is VehicleStanding.IN_FLEET and vehicle.serial == "WX1"  # type: ignore[attr-defined]


def test_a_vehicle_keeps_fitting_the_packs_that_are_in_it(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="P-1002"):
        put(kestrel, "vehicle", form(kestrel, "vehicle", "EB-12") | {"connector": "K9"}, "EB-12")
    with pytest.raises(EntryRefused, match="recorded in bay 2"):
        put(kestrel, "vehicle", form(kestrel, "vehicle", "CB-01") | {"bays": "1"}, "CB-01")


# many vehicles


def test_a_list_is_shown_first_its_counts_sum_and_again_it_adds_nothing(kestrel: Kestrel) -> None:
    store, clock = kestrel.store, kestrel.clock
    text = "Code;Type;Depot;Frame number\nEB-12;e-bike;;WX12\nEB-90;E_Bike;Kestrel Wharf;WX90\nEB-91;trike;KW;\nEB-13;e bike;KW;\nEB-90;e-bike;KW;\nP-1002;e-bike;KW;"
    shown = vehicle_lists.read_text(store, clock, text, "K36-A")
    assert [row.state for row in shown.rows] == [
        State.CHANGED, State.NEW, State.REFUSED, State.KNOWN, State.REFUSED, State.REFUSED,
    ]  # fmt: skip
    assert sum(shown.count(state) for state in State) == len(shown.rows) == 6
    assert say(shown.told) == "6 rows: 1 new, 1 changed, 1 known already, 3 refused"
    with store.view() as view:
        before = view.position
        assert view.thing("vehicle", "EB-90") is None
    done = vehicle_lists.record_list(store, clock, kestrel.author("ORMOND"), shown)
    assert done.position == before + 2 and "2 vehicles" in say(done.message)
    made = _thing(kestrel, "vehicle", "EB-90")
    assert (made.connector, made.voltage_class_v, made.chemistry, made.serial) == ("K2", 36, Chemistry.NMC, "WX90")  # type: ignore[attr-defined]
    assert _thing(kestrel, "vehicle", "EB-12").serial == "WX12"  # type: ignore[attr-defined]
    again = vehicle_lists.read_text(store, clock, text, "K36-A")
    assert again.count(State.KNOWN) == 3 and again.count(State.NEW) == again.count(State.CHANGED) == 0
    with pytest.raises(EntryRefused, match="No row is new"):
        vehicle_lists.record_list(store, clock, kestrel.author("ORMOND"), again)


def test_a_list_without_headings_from_a_spreadsheet_or_a_file_is_read(kestrel: Kestrel, tmp_path: Path) -> None:
    store, clock = kestrel.store, kestrel.clock
    pasted = vehicle_lists.read_text(store, clock, "CB-90\tcargo bike\tKW\tF1\tK48-B\nEB-92\te-bike\tKW\tF2\tK36-A\n")
    assert [row.state for row in pasted.rows] == [State.NEW, State.NEW]
    path = tmp_path / "list.csv"
    path.write_text('"EB-93","e-bike","KW","=1+1"\n', "utf-8")
    shown = vehicle_lists.read_file(store, clock, path, "K36-A")
    vehicle_lists.record_list(store, clock, kestrel.author("ORMOND"), shown)
    assert _thing(kestrel, "vehicle", "EB-93").serial == "=1+1"  # type: ignore[attr-defined]
    with store.view() as view:
        assert view.record_at(view.position).source == "file:list.csv:0"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "no row"), ("code,colour\nEB-1,red", "Only some headings"), ("EB-95,e-bike,KW,F", "needs the pack model")],
)
def test_a_list_that_cannot_be_read_says_why(kestrel: Kestrel, text: str, words: str) -> None:
    try:
        shown = vehicle_lists.read_text(kestrel.store, kestrel.clock, text)
    except EntryRefused as error:
        assert words in say(error.message)
    else:
        assert words in say(shown.rows[0].why)  # type: ignore[arg-type]


def test_a_list_shown_before_a_colleagues_change_is_refused(kestrel: Kestrel) -> None:
    from dataclasses import replace

    shown = vehicle_lists.read_text(kestrel.store, kestrel.clock, "EB-12,e-bike,KW,WX9")
    moved = replace(_thing(kestrel, "vehicle", "EB-12"), bay_place="yard")  # type: ignore[type-var]
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"), ("vehicle", moved))
    with pytest.raises(EntryRefused, match="EB-12"):
        vehicle_lists.record_list(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), shown)


# first steps


def test_a_founded_fleet_lacks_everything_but_its_depot(tmp_path: Path, kestrel: Kestrel) -> None:
    path = tmp_path / "new.fleet"
    code = found(path, "Mill Lane Bikes", "Alex Quill", kestrel.clock)
    store = Store.open(path)
    steps: Callable[[], list[str]] = lambda: [one.name for one in first_steps.missing(store)]  # noqa: E731
    assert steps() == ["person", "pack_model", "vehicle", "charger", "meter", "test_load", "pack"]
    with store.view() as view:
        author = Author(view.thing("person", code), "DESK")
    people.set_pin(store, kestrel.clock, author, code, "47110")
    for kind, thing in (
        ("pack_model", "K36-A"),
        ("vehicle", "EB-12"),
        ("charger", "C-36-1"),
        ("meter", "M-01"),
        ("test_load", "L-08"),
    ):
        typed = form(kestrel, kind, thing) | ({"depot": "D1"} if kind == "vehicle" else {})
        setting_up.record_thing(store, kestrel.clock, author, kind, typed)
    assert steps() == ["pack"]
    store.close()


def test_a_fleet_at_work_lacks_nothing_and_a_vehicle_without_a_fitting_model_is_named(kestrel: Kestrel) -> None:
    assert first_steps.missing(kestrel.store) == ()
    assert all("on record" in say(one.told) for one in first_steps.first_steps(kestrel.store))


def test_a_surname_signs_in_too(tmp_path: Path, kestrel: Kestrel) -> None:
    path = tmp_path / "new.fleet"
    code = found(path, "Mill Lane Bikes", "Alex Quill", kestrel.clock)
    store = Store.open(path)
    assert people.find_person(store, "quill").code == code == people.find_person(store, "al").code
    with pytest.raises(EntryRefused) as nothing:
        people.find_person(store, " ")
    assert str(nothing.value).startswith("Nothing was scanned or typed. Known: ")
    with pytest.raises(EntryRefused, match="nobody"):
        people.find_person(store, "uill")
    store.close()
