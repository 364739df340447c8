"""A fleet described in a plain file: recorded whole or refused in words; the same file again adds nothing."""

from pathlib import Path

import pytest

from fleetcare.domain.errors import FleetcareError, NotAllowed
from fleetcare.resource_files import shipped
from fleetcare.services import describing, summary
from tests.kestrel import Kestrel

NEW = """
[[pack_model]]
code = "L36"
name = "L36"
chemistry = "NMC"
series_count = 10
voltage_class_v = 36
full_v = "42.0"
capacity_ah = "15"
connector = "K2"
limit_figures = [["low_hold", "3.1", "maker's sheet"]]

[[vehicle]]
code = "EB-99"
kind = "e_bike"
depot = "KW"
voltage_class_v = 36
connector = "K2"

[[pack]]
code = "P-1999"
model = "L36"
found_in = "EB-99"
in_service_on_day = -3
"""


def bring(kestrel: Kestrel, tmp_path: Path, text: str) -> int:
    path = tmp_path / "fleet.toml"
    path.write_text(text, "utf-8")
    before = describing.import_fleet(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), path)
    return before.position


def test_new_things_go_in_and_the_same_file_again_adds_nothing(kestrel: Kestrel, tmp_path: Path) -> None:
    position = bring(kestrel, tmp_path, NEW)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1999")
    assert page.vehicle == "EB-99" and page.model.limit_figures[0][0] == "low_hold"
    assert dict((name, value) for name, value, *_ in page.limits)["low_hold"] == 31
    assert bring(kestrel, tmp_path, NEW) == position
    assert kestrel.store.verify().good


def test_the_demonstrations_own_description_can_be_read() -> None:
    import datetime as dt

    described = describing.read(shipped("demo_fleet") / "fleet.toml")
    assert len(describing.things_of(described, dt.date(2026, 11, 25))) > 80


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("not toml", "cannot be read"),
        ("[[planet]]\ncode = 'X1'", "no class of things"),
        (NEW.replace('name = "L36"', ""), "L36: the pack_model is not complete, it lacks: name"),
        (NEW.replace('"42.0"', '"forty"'), "cannot be its full_v"),
        (NEW.replace('"NMC"', '"XYZ"'), "cannot be its chemistry"),
        (NEW.replace("series_count = 10", 'series_count = "ten"'), "cannot be its series_count"),
        (NEW.replace('model = "L36"', 'model = "L99"'), "L99 is not on record"),
        (NEW.replace('kind = "e_bike"', 'kind = "e_bike"\ncolour = "red"'), "has no “colour”"),
        (NEW.replace('connector = "K2"', 'connector = "K9"', 1), "has connector K9"),
        (NEW.replace("[[pack_model]]", "[pack_model]"), "begin each thing with"),
        (NEW.replace('"42.0"', "2026-11-02"), "cannot be its full_v"),
        (NEW.replace('"42.0"', '"nan"'), "cannot be its full_v"),
        (NEW.replace('"42.0"', f'"{"9" * 60}"'), "cannot be its full_v"),
        (NEW.replace("series_count = 10", "series_count = true"), "cannot be its series_count"),
        (NEW.replace("series_count = 10", "series_count = -3"), "L36: "),
        (NEW.replace("_day = -3", '_day = "soon"'), "cannot be its in_service_on_day"),
        (NEW.replace("_day = -3", "_day = 99999999"), "cannot be its in_service_on_day"),
        (NEW.replace('found_in = "EB-99"', "found_in = 7"), "cannot be its found_in"),
        (NEW.replace('found_in = "EB-99"', 'found_in = "EB-99"\nbay = "left"'), "cannot be its bay"),
        (
            NEW.replace('[["low_hold", "3.1", "maker\'s sheet"]]', '[["low_hold", "3.1"]]'),
            "cannot be its limit_figures",
        ),
        (NEW.replace("P-1999", "<b>41</b>"), "<b>41</b>: “<b>41</b>” cannot be a label"),
    ],
)
def test_what_cannot_be_taken_is_refused_and_nothing_is_written(
    kestrel: Kestrel, tmp_path: Path, text: str, words: str
) -> None:
    with kestrel.store.view() as view:
        before = view.head()
    with pytest.raises(FleetcareError, match=words):
        bring(kestrel, tmp_path, text)
    with kestrel.store.view() as view:
        assert view.head() == before


def test_what_the_file_does_not_say_stays_as_recorded(kestrel: Kestrel, tmp_path: Path) -> None:
    from fleetcare.domain.packs import PairRule
    from fleetcare.services import bays, passports, warranty

    store, clock = kestrel.store, kestrel.clock
    passports.record_passport(store, clock, kestrel.author(), "P-1011", "https://passport.example/P-1011")
    warranty.record_purchase(
        store, clock, kestrel.author("ORMOND"), "P-1011", bought_on="2026-01-05", months="24", clause="", invoice="I-1",
        price="410",
    )  # fmt: skip
    bays.put_rule(store, clock, kestrel.author("ORMOND"), "CB-01", PairRule(same_model=True, source="the maker"))
    bring(kestrel, tmp_path, '[[pack]]\ncode = "P-1011"\nmodel = "K36-A"\nnote = "scuffed"\n' + CB_01)
    with store.view() as view:
        pack, vehicle = view.thing("pack", "P-1011"), view.thing("vehicle", "CB-01")
    assert (pack.note, pack.serial, pack.invoice) == ("scuffed", "2403-0611", "I-1")
    assert pack.passport.endswith("P-1011") and pack.shelf == "Store"
    assert vehicle.bay_place == "row 3" and vehicle.pair_rule is not None


CB_01 = """
[[vehicle]]
code = "CB-01"
kind = "cargo_bike"
depot = "KW"
voltage_class_v = 48
connector = "K4"
bays = 2
bay_place = "row 3"
"""


def test_only_a_manager_describes_standing_purchase_and_rules(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "fleet.toml"
    for text, words in (
        ('[[pack]]\ncode = "P-1011"\nmodel = "K36-A"\nstanding = "retired"\n', "the standing of P-1011"),
        ('[[pack]]\ncode = "P-1011"\nmodel = "K36-A"\ninvoice = "I-9"\n', "the purchase of P-1011"),
        ('[[depot]]\ncode = "KW"\nname = "Kestrel Wharf"\nrules = "UK"\n', "the rules it follows of KW"),
        (CB_01 + 'pair_rule = { same_model = true, source = "me" }\n', "the pairing rule of CB-01"),
    ):
        path.write_text(text, "utf-8")
        with pytest.raises(NotAllowed, match=f"{words}: that is for a manager"):
            describing.import_fleet(kestrel.store, kestrel.clock, kestrel.author("DUNN"), path)
        describing.import_fleet(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), path)
