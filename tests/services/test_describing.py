"""A fleet described in a plain file: recorded whole or refused in words; the same file again adds nothing."""

from pathlib import Path

import pytest

from fleetcare.domain.errors import FleetcareError
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
        (NEW.replace('name = "L36"', ""), "not complete"),
        (NEW.replace('"42.0"', '"forty"'), "cannot be its full_v"),
        (NEW.replace('"NMC"', '"XYZ"'), "cannot be its chemistry"),
        (NEW.replace("series_count = 10", 'series_count = "ten"'), "cannot be its series_count"),
        (NEW.replace('model = "L36"', 'model = "L99"'), "L99 is not on record"),
        (NEW.replace('kind = "e_bike"', 'kind = "e_bike"\ncolour = "red"'), "has no “colour”"),
        (NEW.replace('connector = "K2"', 'connector = "K9"', 1), "has connector K9"),
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
