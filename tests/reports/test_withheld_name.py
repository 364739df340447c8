"""A leaver's name as initials: one recorded choice, and no print says the name."""

import io
import zipfile
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fleetcare.cli import commands
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Role
from fleetcare.reports import board_page, competence_sheet, every_sheet
from fleetcare.reports.every_sheet import KINDS, Order
from fleetcare.services import calendar_out, competence, people, summary
from fleetcare.services.withholding import withhold_name
from tests.kestrel import Kestrel
from tests.reports.test_every_sheet import busy, code_of, number_papers

__all__ = ["busy"]

NAME = "Odalys Quillfeather"


@pytest.fixture
def left(busy: Kestrel) -> Kestrel:
    """PIKE, who did much of the work here, goes by a name nobody else has, and has left."""
    author = busy.author("ORMOND")
    number_papers(busy)
    gone = replace(busy.people["PIKE"], name=NAME, roles=(), level=Level.NONE)
    people.put_person(busy.store, busy.clock, author, gone)
    return busy


def printed_by(kestrel: Kestrel, folder: Path) -> dict[str, str]:
    """The text of every print by its name."""
    texts = {}
    for kind in KINDS:
        path = folder / f"{kind}.pdf"
        numbers = ("S2611020630-01",) if kind == "blank" else ()
        order = Order(kind, "A4", "Ormond", kestrel.now, code_of(kind), numbers)
        every_sheet.write(order, kestrel.store, kestrel.clock, path)
    common = {"page": "A4", "printed_by": "Ormond", "printed_at": kestrel.now}
    competence_sheet.write(competence.matrix(kestrel.store, kestrel.clock), folder / "competence.pdf", **common)
    fleet = ["--fleet", str(kestrel.store.path)]
    for name, code in (("history-vehicle", ["EB-19"]), ("history-pack", ["P-1002"]), ("history-fleet", [])):
        paths = ["--output", str(folder / f"{name}.pdf"), "--archive", str(folder / f"{name}.zip")]
        assert commands.run(["history", *code, *paths, *fleet]) == 0
    assert (
        commands.run(
            ["labels", "PIKE", "--kind", "person", "--output", str(folder / "badge.pdf"), "--as", "DUNN", *fleet]
        )
        == 0
    )
    for path in folder.glob("*.pdf"):
        texts[path.stem] = " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    for path in folder.glob("*.zip"):
        with zipfile.ZipFile(path) as packed:
            for name in packed.namelist():
                data = packed.read(name)
                whole = name.endswith(".pdf")
                texts[f"{path.stem}/{name}"] = (
                    " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages)
                    if whole
                    else data.decode()
                )
    texts["board page"] = board_page.page(summary.fleet_summary(kestrel.store, kestrel.clock), made_at=kestrel.now)
    calendar_out.write_depot(kestrel.store, kestrel.clock, "KW", folder / "kw.ics")
    texts["calendar"] = (folder / "kw.ics").read_text("utf-8")
    return {name: " ".join(text.split()) for name, text in texts.items()}


def test_every_print_honours_the_choice_and_the_record_stands(left: Kestrel, tmp_path: Path) -> None:
    before = printed_by(left, tmp_path)
    assert {name for name, text in before.items() if "Quillfeather" in text} >= {
        "pack",
        "claim",
        "badge",
        "competence",
        "history-vehicle",
        "history-pack",
        "history-fleet",
    }
    with left.store.view() as view:
        head = view.head()
    told = withhold_name(left.store, left.clock, left.author("ORMOND"), "PIKE", "asked to, in writing, 3 Nov")
    assert told.message.key == "people.withheld"
    after = printed_by(left, tmp_path)
    assert before.keys() == after.keys()
    assert [name for name, text in after.items() if "Quillfeather" in text or "Odalys" in text] == []
    assert (
        "O. Q." in after["history-vehicle"]
        and "O. Q." in after["claim"]
        and "O. Q." in after["badge"]
        and "O. Q." in after["competence"]
    )
    assert "Ask counsel" in after["history-vehicle"]
    with left.store.view(head.size) as view:
        assert view.head() == head, "every record stands as it was"
        assert view.person_names()["PIKE"] == "O. Q.", "a print of an earlier day honours it too"
        assert view.thing("person", "PIKE").name == NAME, "what is on record is not changed"
    assert left.store.verify().good


def test_it_is_a_managers_choice_about_a_leaver_with_a_reason(left: Kestrel) -> None:
    store, clock, manager = left.store, left.clock, left.author("ORMOND")
    with pytest.raises(NotAllowed, match="manager"):
        withhold_name(store, clock, left.author("DUNN"), "PIKE", "asked")
    with pytest.raises(NotAllowed, match="own name"):
        withhold_name(store, clock, manager, "ORMOND", "asked")
    with pytest.raises(EntryRefused, match="still works here"):
        withhold_name(store, clock, manager, "DUNN", "asked")
    with pytest.raises(EntryRefused, match="Say why"):
        withhold_name(store, clock, manager, "PIKE", "  ")
    withhold_name(store, clock, manager, "PIKE", "asked")
    with pytest.raises(EntryRefused, match="already"):
        withhold_name(store, clock, manager, "PIKE", "asked")
    people.put_person(store, clock, manager, replace(left.people["PIKE"], name=NAME, roles=(Role.MECHANIC,)))
    with store.view() as view:
        assert view.person_names()["PIKE"] == "O. Q.", "until it is taken back"
    withhold_name(store, clock, manager, "PIKE", "came back", withheld=False)
    with store.view() as view:
        assert view.person_names()["PIKE"] == NAME
        assert [one.kind for one in view.events_of("person", "PIKE")].count("name_withheld") == 2


def test_the_command_line_lists_and_records_it(left: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    fleet = ["--fleet", str(left.store.path)]
    assert commands.run(["name", "PIKE", "--initials", "asked to", "--as", "ORMOND", *fleet]) == 0
    assert "O. Q." in (said := capsys.readouterr().out) and "Ask counsel" in said
    assert commands.run(["name", *fleet]) == 0
    assert "PIKE" in (said := capsys.readouterr().out) and "asked to" in said and NAME not in said
    assert commands.run(["name", "PIKE", "--full", "came back", "--as", "ORMOND", *fleet]) == 0
