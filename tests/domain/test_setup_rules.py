"""Forms of the set-up: what is typed becomes the thing and back, and what contradicts a rule is refused with its number.

Group counts and their charge-end voltages (13 × 4.20 V = 54.6 V, 14 × 4.20 V = 58.8 V) follow from the 4.20 V of a cell
maker's specification (3.5 Ah 18650 NCA cell, v1.1, section 3.2).  Blade fuses: ISO 8820-3:2015, 32 V and 58 V types.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import (
    THING_CLASSES,
    Charger,
    Chemistry,
    Depot,
    Meter,
    PackModel,
    ServiceNotes,
    SiteRules,
    TestLoad,
    Vehicle,
    VehicleKind,
)
from fleetcare.domain.records import ThingPut, canonical, from_plain, to_plain
from fleetcare.domain.setup import rules
from fleetcare.domain.setup.changes import changes
from fleetcare.domain.setup.forms import FORMS, NOT_KEPT, NOTES_FIELDS, Entry, empty, fields_of
from fleetcare.domain.setup.hints import hints
from fleetcare.domain.setup.reading import label_of, notes_of, thing_of, typed_of
from fleetcare.domain.wording import say
from fleetcare.resource_files import shipped
from fleetcare.services import describing

D = Decimal
TODAY = dt.date(2026, 11, 29)
MODEL = PackModel("K36", "K36", Chemistry.NMC, 10, 36, D("42.0"), D("14"), "K2", fuse_a=D("30"), fuse_dc_v=D("58"),
                  reset_note="Draw the fuse.", storage_low_v=D("36"), storage_high_v=D("38.5"))  # fmt: skip
NOTES = ServiceNotes("K36", fuse_body="type_c", reset_by_fuse=True)


def refused(model: PackModel = MODEL, notes: ServiceNotes = NOTES) -> tuple[str, str]:
    """The field and the sentence of the refusal, or nothing."""
    try:
        rules.refuse_model(model, notes)
    except EntryRefused as error:
        return error.field, say(error.message)
    return "", ""


def test_every_field_of_every_form_has_its_words_and_fills_an_attribute() -> None:
    for kind in FORMS:
        attributes = set(THING_CLASSES[kind].__dataclass_fields__) | set(NOT_KEPT) | set(NOTES_FIELDS)
        for name in fields_of(kind):
            assert say(label_of(kind, name))
            assert name in attributes or name.startswith(("limit_", "source_"))


def test_the_demonstrations_things_pass_through_their_forms_unchanged_and_break_no_rule() -> None:
    described = describing.things_of(describing.read(shipped("demo_fleet") / "fleet.toml"), TODAY)
    notes = {one.code: one for kind, one in described if kind == "service_notes"}
    depots = [one.code for kind, one in described if kind == "depot"]
    models = {one.code: one for kind, one in described if kind == "pack_model"}
    seen = set()
    for kind, thing in described:
        if kind not in FORMS:
            continue
        seen.add(kind)
        typed = typed_of(kind, thing, notes.get(thing.code))
        assert thing_of(kind, typed, thing) == thing, thing.code
        if kind == "pack_model":
            own = notes_of(typed, notes.get(thing.code))
            assert own == notes.get(thing.code, ServiceNotes(thing.code))
            rules.refuse_model(thing, own)  # type: ignore[arg-type]
        elif isinstance(thing, Vehicle):
            rules.refuse_vehicle(thing, depots)
        elif isinstance(thing, Charger):
            rules.refuse_charger(thing, models)  # type: ignore[arg-type]
        elif isinstance(thing, SiteRules):
            rules.refuse_site(thing)
    assert seen == set(FORMS)


def test_a_number_keeps_the_digits_it_was_typed_with_and_a_comma_is_a_point() -> None:
    typed = empty("meter") | {"code": "m-1", "name": "m", "accuracy_percent": "0,50", "accuracy_digits": "2"}
    made = thing_of("meter", typed, None)
    assert made == Meter("M-1", "m", D("0.50"), 2, D("0.01"))
    assert str(made.accuracy_percent) == "0.50"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("kind", "field", "text", "words"),
    [
        ("pack_model", "full_v", "42 V", "has a unit"),
        ("pack_model", "full_v", "", "Charge-end voltage of the pack is needed"),
        ("pack_model", "series_count", "10.5", "no whole number"),
        ("pack_model", "baseline_resistance_ohm", "132 mΩ", "Did you mean 0.132"),
        ("pack_model", "capacity_ah", "0", "above zero"),
        ("pack_model", "price", "-1", "below zero"),
        ("charger", "tolerance_percent", "one", "not a number"),
        ("meter", "calibration_due", "31.1.2027", "2027"),
        ("depot", "distances_km", "HY twelve", "no way to a depot"),
        ("test_load", "hold_s", "", "Held for is needed"),
    ],
)
def test_what_is_no_figure_is_refused_beside_its_field(kind: str, field: str, text: str, words: str) -> None:
    full = {
        "pack_model": typed_of("pack_model", MODEL, NOTES),
        "charger": typed_of("charger", Charger("C-1", "c", D("42"), D("1"), "K2", Chemistry.NMC)),
        "meter": typed_of("meter", Meter("M-1", "m", D("0.5"), 2, D("0.01"))),
        "depot": typed_of("depot", Depot("KW", "Kestrel Wharf")),
        "test_load": typed_of("test_load", TestLoad("L-1", "l", D("8"), 10)),
    }[kind]
    with pytest.raises(EntryRefused, match=words) as found:
        thing_of(kind, full | {field: text}, None)
    assert found.value.field == field


def test_a_sound_model_is_taken() -> None:
    assert refused() == ("", "")


def test_thirteen_and_fourteen_groups_are_told_apart_by_their_volts() -> None:
    thirteen = replace(
        MODEL, series_count=13, voltage_class_v=48, full_v=D("54.6"), storage_low_v=None, storage_high_v=None
    )
    assert refused(thirteen) == ("", "")
    field, told = refused(replace(thirteen, full_v=D("58.8"), fuse_dc_v=D("60")))
    assert field == "full_v" and "13 groups is 4.52 V per group" in told and "14 groups?" in told
    assert refused(replace(thirteen, series_count=14, full_v=D("58.8"), fuse_dc_v=D("60"))) == ("", "")
    shown = hints("pack_model", typed_of("pack_model", thirteen), SiteRules())
    assert shown["series_count"].grave and "54.60 V and 58.80 V" in say(shown["series_count"].text)
    assert "4.20 V per group" in say(shown["full_v"].text)


def test_volts_per_group_are_taken_at_the_stop_limit_and_refused_above() -> None:
    assert refused(replace(MODEL, full_v=D("42.5"), limit_figures=(("over_full_query", D("4.25"), "maker"),))) == (
        "",
        "",
    )
    assert refused(replace(MODEL, full_v=D("42.6")))[0] == "full_v"
    assert refused(replace(MODEL, full_v=D("39.9")))[0] == "full_v"


def test_the_class_lies_between_hold_and_full() -> None:
    assert refused(replace(MODEL, voltage_class_v=30))[0] == "" and refused(replace(MODEL, voltage_class_v=42))[0] == ""
    for wrong in (29, 43):
        field, told = refused(replace(MODEL, voltage_class_v=wrong))
        assert field == "voltage_class_v" and "30.00 V to 42.0" in told


def test_a_limit_of_the_maker_stands_in_the_order_of_all_limits_and_equality_is_allowed() -> None:
    assert refused(replace(MODEL, limit_figures=(("low_hold", D("2.50"), "maker"),))) == ("", "")
    field, told = refused(replace(MODEL, limit_figures=(("low_hold", D("2.40"), "maker"),)))
    assert field == "limit_low_hold" and "do not charge below" in told and "2.50 V" in told
    assert (
        refused(replace(MODEL, limit_figures=(("rested_full_pass", D("4.21"), "maker"),)))[0]
        == "limit_rested_full_pass"
    )


def test_a_looser_figure_says_so_and_a_stricter_one_does_not() -> None:
    for own, grave in (("2.90", True), ("3.00", False), ("3.10", False)):
        typed = typed_of("pack_model", replace(MODEL, limit_figures=(("low_hold", D(own), "maker"),)))
        hint = hints("pack_model", typed, SiteRules())["limit_low_hold"]
        assert hint.grave is grave and "3.00 V" in say(hint.text)
    bare = hints("pack_model", typed_of("pack_model", MODEL), SiteRules())["limit_low_hold"]
    assert say(bare.text) == "default 3.00 V (common practice, no source)"


@pytest.mark.parametrize("text", ["1e400", "9" * 40, "1e-30", "NaN", "Infinity", "-5", "0", "½"])
def test_no_text_of_a_number_keeps_a_form_from_telling_its_hints(text: str) -> None:
    """They are told at every key; what is no figure is refused when it is recorded."""
    for kind in FORMS:
        typed = empty(kind) | {"chemistry": "NMC", "series_count": "10", "full_v": "42", "rated_v": "42", "digit_v": "0.01",
                               "accuracy_percent": "0.5", "accuracy_digits": "2"}  # fmt: skip
        for name, field in fields_of(kind).items():
            if field.entry not in (Entry.CHOICE, Entry.MANY, Entry.YES):
                assert all(say(one.text) for one in hints(kind, typed | {name: text}, SiteRules()).values()), name


def test_what_is_typed_of_a_fuse_is_told_at_once_as_it_stands_on_the_fuse() -> None:
    def told(fuse_a: str) -> dict[str, str]:
        typed = typed_of("pack_model", MODEL, NOTES) | {"bms_limit_a": "30", "fuse_a": fuse_a}
        found = hints("pack_model", typed, SiteRules())
        return {name: say(found[name].text) for name in ("fuse_a", "fuse_part") if name in found}

    assert told("40")["fuse_a"] == "between 30 A and 40 A only the battery management acts"
    assert told("30")["fuse_a"].startswith("The fuse of 30 A is not above the battery management's limit of 30 A")
    assert told("45")["fuse_part"] == "45 A is no standard blade value: the part number is needed"


def test_fuse_rules_hold_at_entry() -> None:
    assert refused(replace(MODEL, fuse_dc_v=D("32")))[0] == "fuse_dc_v"
    assert refused(replace(MODEL, fuse_dc_v=D("42.0"))) == ("", "")
    fourteen = replace(
        MODEL, series_count=14, voltage_class_v=48, full_v=D("58.8"), storage_low_v=None, storage_high_v=None
    )
    field, told = refused(fourteen)
    assert field == "fuse_dc_v" and "58 V DC is below" in told.replace("58.00", "58")
    assert refused(replace(MODEL, fuse_a=D("45")))[0] == "fuse_part"
    assert refused(replace(MODEL, fuse_a=D("45")), replace(NOTES, fuse_part="FB-45")) == ("", "")
    assert refused(MODEL, replace(NOTES, fuse_body=""))[0] == "fuse_body"
    assert refused(replace(MODEL, fuse_a=None))[0] == "fuse_a"


def test_the_charge_fuse_follows_the_same_rules_with_figures_of_its_own() -> None:
    assert refused(notes=replace(NOTES, charge_fuse_body="type_c"))[0] == "charge_fuse_a"
    assert refused(notes=replace(NOTES, charge_fuse_part="FB-10-58"))[0] == "charge_fuse_a"
    assert refused(notes=replace(NOTES, charge_fuse_a=D("10")))[0] == "charge_fuse_body"
    kept = replace(NOTES, charge_fuse_a=D("10"), charge_fuse_body="type_c")
    assert refused(notes=kept) == ("", "")
    assert refused(notes=replace(kept, charge_fuse_a=D("11")))[0] == "charge_fuse_part"
    assert refused(notes=replace(kept, charge_fuse_a=D("11"), charge_fuse_part="FB-11")) == ("", "")


def test_every_figure_that_a_manager_may_say_of_a_thing_has_its_field() -> None:
    """What is left out belongs to another page, or follows from what is typed."""
    elsewhere = {
        "depot": {"rules", "rules_text"}, "pack_model": {"limit_figures"}, "vehicle": {"pair_rule", "standing"},
        "meter": {"refused_from", "owner"}, "site_rules": {"rules_followed", "limit_figures", "sources"},
    }  # fmt: skip
    for kind in FORMS:
        missing = set(THING_CLASSES[kind].__dataclass_fields__) - set(fields_of(kind))
        assert missing == elsewhere.get(kind, set()), kind
    assert set(ServiceNotes.__dataclass_fields__) - set(fields_of("pack_model")) == {"pair_rule"}


def test_a_guided_reset_needs_the_makers_words_a_fuse_and_at_most_60_volts() -> None:
    """60 V DC ends voltage class A (EN 50604-1)."""
    assert refused(replace(MODEL, reset_note=" "))[0] == "reset_note"
    bare = replace(MODEL, fuse_a=None, fuse_dc_v=None)
    assert refused(bare, ServiceNotes("K36", reset_by_fuse=True))[0] == "fuse_a"
    assert refused(bare, ServiceNotes("K36")) == ("", "")
    high = replace(MODEL, series_count=15, voltage_class_v=52, full_v=D("63"), fuse_dc_v=D("80"), storage_low_v=None,
                   storage_high_v=None)  # fmt: skip
    assert refused(high)[0] == "reset_by_fuse"
    assert refused(high, replace(NOTES, reset_by_fuse=False)) == ("", "")


def test_baseline_window_band_and_price_come_in_pairs() -> None:
    assert refused(replace(MODEL, baseline_resistance_ohm=D("0.132")))[0] == "baseline_c"
    assert refused(replace(MODEL, baseline_c=D("25")))[0] == "baseline_resistance_ohm"
    field, told = refused(replace(MODEL, baseline_resistance_ohm=D("132"), baseline_c=D("25")))
    assert field == "baseline_resistance_ohm" and "132 mΩ is typed 0.132" in told
    assert refused(replace(MODEL, charge_min_c=D("45")))[0] == "charge_max_c"
    assert refused(replace(MODEL, storage_high_v=None))[0] == "storage_high_v"
    assert refused(replace(MODEL, storage_low_v=D("29.9")))[0] == "storage_low_v"
    assert refused(replace(MODEL, storage_low_v=D("30"), storage_high_v=D("42.0"))) == ("", "")
    assert refused(replace(MODEL, storage_high_v=D("42.1")))[0] == "storage_high_v"
    assert refused(replace(MODEL, price=D("420")))[0] == "currency"
    assert refused(replace(MODEL, price=D("420"), currency="£"))[0] == "currency"


def test_vehicles_chargers_meters_loads_and_depots_are_refused_by_number() -> None:
    bike = Vehicle("EB-1", VehicleKind.E_BIKE, "KW", 36, "K2")
    charger = Charger("C-1", "c", D("42.0"), D("1"), "K2", Chemistry.NMC, ("K36",))
    checks = [
        (lambda: rules.refuse_vehicle(replace(bike, code="BIKE"), ["KW"]), "code"),
        (lambda: rules.refuse_vehicle(replace(bike, depot="ZZ"), ["KW"]), "depot"),
        (lambda: rules.refuse_vehicle(replace(bike, bays=5), ["KW"]), "bays"),
        (lambda: rules.refuse_vehicle(replace(bike, needs_packs=2), ["KW"]), "needs_packs"),
        (lambda: rules.refuse_vehicle(replace(bike, charge_end_v=D("42")), ["KW"]), "chemistry"),
        (lambda: rules.refuse_charger(replace(charger, rated_v=D("54.6")), {"K36": MODEL}), "models"),
        (lambda: rules.refuse_charger(replace(charger, connector="K4"), {"K36": MODEL}), "models"),
        (lambda: rules.refuse_charger(replace(charger, chemistry=Chemistry.LFP), {"K36": MODEL}), "models"),
        (lambda: rules.refuse_charger(replace(charger, tolerance_percent=D("5.1")), {"K36": MODEL}), "tolerance_percent"),
        (lambda: rules.refuse_meter(Meter("M-1", "m", D("0"), 0, D("0.01"))), "accuracy_percent"),
        (lambda: rules.refuse_meter(Meter("M-1", "m", D("0.5"), 2, D("0"))), "digit_v"),
        (lambda: rules.refuse_load(TestLoad("L-1", "l", D("8"), 0), TODAY), "hold_s"),
        (lambda: rules.refuse_load(TestLoad("L-1", "l", D("8"), 10, D("1"), dt.date(2026, 11, 30)), TODAY), "proved_on"),
        (lambda: rules.refuse_depot(Depot("KW", "k", "Mars/Olympus"), ["KW"]), "time_zone"),
        (lambda: rules.refuse_depot(Depot("KW", "k", distances_km=(("KW", D("1")),)), ["KW"]), "distances_km"),
    ]  # fmt: skip
    for check, field in checks:
        with pytest.raises(EntryRefused) as found:
            check()
        assert found.value.field == field and say(found.value.message)
    rules.refuse_vehicle(bike, ["KW"])
    rules.refuse_charger(replace(charger, tolerance_percent=D("5")), {"K36": MODEL})
    rules.refuse_load(TestLoad("L-1", "l", D("8"), 10, D("1"), TODAY), TODAY)


def test_changes_are_told_field_by_field_and_what_was_loosened_is_marked() -> None:
    before = typed_of("pack_model", MODEL, NOTES)
    after = before | {"fuse_a": "40", "wake_note": "Press the button.", "limit_low_hold": "2.9", "source_low_hold": "sheet",
                      "next_lower_fuse": "yes"}  # fmt: skip
    told = {one.name: (say(one.told), one.loosened) for one in changes("pack_model", before, after)}
    assert told == {
        "limit_low_hold": ("hold below: — → 2.9 V per group (looser)", True),
        "source_low_hold": ("Source of “hold below”: — → sheet", False),
        "fuse_a": ("Fuse: 30 A → 40 A (looser)", True),
        "next_lower_fuse": ("The maker allows the next lower rating: no → yes", False),
        "wake_note": ("How the maker wakes it: — → Press the button.", False),
    }
    assert changes("pack_model", before, before) == ()


def test_taking_the_most_charge_current_away_and_a_larger_charge_fuse_are_looser() -> None:
    before = typed_of("pack_model", MODEL, NOTES) | {"charge_max_a": "4", "charge_fuse_a": "10"}
    told = {
        one.name: one.loosened
        for one in changes("pack_model", before, before | {"charge_max_a": "", "charge_fuse_a": "15"})
    }
    assert told == {"charge_max_a": True, "charge_fuse_a": True}


def test_a_frame_number_is_written_only_where_there_is_one() -> None:
    bike = Vehicle("EB-1", VehicleKind.E_BIKE, "KW", 36, "K2")
    assert b"serial" not in canonical(to_plain(ThingPut("vehicle", bike)))  # type: ignore[arg-type]
    framed = replace(bike, serial="WX44120")
    assert canonical(to_plain(ThingPut("vehicle", framed))) == (  # type: ignore[arg-type]
        b'{"thing":{"bay_place":"","bays":1,"code":"EB-1","connector":"K2","depot":"KW","kind":"e_bike","needs_packs":1,'
        b'"serial":"WX44120","voltage_class_v":36},"thing_class":"vehicle"}'
    )
    assert from_plain(Vehicle, to_plain(framed)) == framed


def test_a_setting_that_leaves_its_default_needs_a_source_and_one_that_comes_back_has_none() -> None:
    site = SiteRules(name="Kestrel Wharf")
    typed = typed_of("site_rules", site)
    with pytest.raises(EntryRefused, match="A check is due after") as refused:
        thing_of("site_rules", typed | {"check_due_days": "10"}, site)
    assert refused.value.field == "why"
    with pytest.raises(EntryRefused) as crossed:
        thing_of("site_rules", typed | {"check_due_days": "20"}, site)
    assert crossed.value.field == "grounded_after_days", "a contradiction is said before a source is asked for"
    assert say(crossed.value.message) == (
        "“Without a check not to be used after” must be more than “A check is due after”: 14 days is not more than 20 days."
    )
    own = thing_of("site_rules", typed | {"check_due_days": "10", "why": "insurer's letter 2026-11"}, site)
    assert own == replace(site, check_due_days=10, sources=(("check_due_days", "insurer's letter 2026-11"),))
    shown = hints("site_rules", typed_of("site_rules", own), own)["check_due_days"]  # type: ignore[arg-type]
    assert shown.grave and say(shown.text) == (
        "looser than the default 7 days (proposal of this program); now by: insurer's letter 2026-11"
    )
    assert thing_of("site_rules", typed_of("site_rules", own) | {"check_due_days": "7"}, own) == site
    told = {one.name: one.loosened for one in changes("site_rules", typed, typed | {
        "check_due_days": "6", "grounded_after_days": "15", "extension_allowed": "yes", "minimum_rest_minutes": "30"})}  # fmt: skip
    assert told == {
        "check_due_days": False,
        "grounded_after_days": True,
        "extension_allowed": True,
        "minimum_rest_minutes": True,
    }


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("check_due_days", {"check_due_days": 0}), ("long_rest_days", {"long_rest_days": 401}),
        ("grounded_after_days", {"check_due_days": 14}), ("resistance_pull_ratio", {"resistance_watch_ratio": D("1.60")}),
        ("resistance_watch_ratio", {"resistance_watch_ratio": D("1")}), ("resistance_pull_ohm", {"resistance_watch_ohm": D("0.2")}),
        ("storage_high_group_v", {"storage_low_group_v": D("3.85")}), ("trips_any_pull", {"trips_any_pull": 0}),
        ("code", {"code": "DEPOT-1"}), ("comparable_checks", {"comparable_checks": 2}), ("resistance_hold_s", {"resistance_load_a": D("8")}),
        ("resistance_watch_ohm", {"resistance_load_a": D("8"), "resistance_hold_s": 10}),
    ],
)  # fmt: skip
def test_settings_that_contradict_each_other_are_refused(field: str, changed: dict[str, object]) -> None:
    rules.refuse_site(SiteRules())
    with pytest.raises(EntryRefused) as refused:
        rules.refuse_site(replace(SiteRules(), **changed))  # type: ignore[arg-type]
    assert refused.value.field == field
