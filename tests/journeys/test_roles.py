"""Roles and levels at the window and the command line: every restricted deed of the table, by everybody."""

from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from fleetcare.__main__ import main
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import METERS, D, Kestrel
from tests.role_kinds import BY_ITSELF, COMMAND_LINE_ONLY
from tests.role_paths import (
    AT_THE_COMMAND_LINE,
    PREPARED,
    PRESSED,
)
from tests.role_presses import condition, person
from tests.role_pressing import Pressing
from tests.role_table import EVERYBODY, TABLE, Deed, Who, with_everybody
from tests.services.test_roles import WHO_MAY

RESTRICTED = {deed.words: deed for deed in TABLE if deed.who is not Who.ANYONE}


def position(kestrel: Kestrel) -> int:
    with kestrel.store.view() as view:
        return view.position


def test_every_restricted_deed_has_its_place_in_the_program() -> None:
    assert set(PRESSED) | set(AT_THE_COMMAND_LINE) | set(BY_ITSELF) == set(RESTRICTED)
    assert set(AT_THE_COMMAND_LINE) == COMMAND_LINE_ONLY and not set(PRESSED) & COMMAND_LINE_ONLY
    assert not set(BY_ITSELF) & set(PRESSED)


def pressing(window: MainWindow, qtbot: QtBot, kestrel: Kestrel, folder: Path, deed: Deed) -> Pressing:
    with_everybody(kestrel)
    ready = PREPARED.get(deed.words, deed.prepare)(kestrel, folder)
    window.session.set_bench(METERS[0], None, D(20))
    return Pressing(window, qtbot, kestrel, folder, ready)


@pytest.mark.parametrize("words", PRESSED)
def test_at_the_window_a_deed_is_allowed_or_refused_as_the_table_says(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path, words: str
) -> None:
    deed = RESTRICTED[words]
    p = pressing(window, qtbot, kestrel, tmp_path, deed)
    before = position(kestrel)
    for one in EVERYBODY:
        if deed.who.allows(one):
            continue
        window.session.sign_in(one)
        p.badge, p.dialog_said = one.badge, ""
        PRESSED[words](p)
        assert position(kestrel) == before, f"{one.name} did it"
        found = p.said()
        assert WHO_MAY.search(found), f"{one.name} read: {found[-900:]}"
    may = [one for one in EVERYBODY if deed.who.allows(one)]
    window.session.sign_in(may[-1])
    p.badge, p.dialog_said = may[-1].badge, ""
    PRESSED[words](p)
    if deed.keeps_record:
        assert position(kestrel) > before, f"{may[-1].name} was refused: {p.said()[-900:]}"


@pytest.mark.parametrize("words", AT_THE_COMMAND_LINE)
def test_at_the_command_line_too(
    kestrel: Kestrel, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: str
) -> None:
    deed = RESTRICTED[words]
    with_everybody(kestrel)
    command = AT_THE_COMMAND_LINE[words](tmp_path, deed.prepare(kestrel, tmp_path))
    before = position(kestrel)
    by = lambda one: main([*command, "--fleet", str(kestrel.store.path), "--as", one.code])  # noqa: E731
    for one in EVERYBODY:
        if not deed.who.allows(one):
            assert by(one) != 0 and position(kestrel) == before, f"{one.name} did it"
            assert WHO_MAY.search(capsys.readouterr().err), one.name
    may = [one for one in EVERYBODY if deed.who.allows(one)]
    assert by(may[-1]) == 0 and position(kestrel) > before, capsys.readouterr().err


def test_nobody_is_told_to_sign_in(window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path) -> None:
    p = Pressing(window, qtbot, kestrel, tmp_path, None)
    for press in (person, PRESSED["make the next label of a pack"], condition):
        before = position(kestrel)
        press(p)
        assert "sign in" in p.said().lower()
        assert position(kestrel) == before


def test_a_level_taken_away_counts_at_once_in_an_open_window(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    from fleetcare.services import people

    with_everybody(kestrel)
    was = next(one for one in EVERYBODY if one.level is Level.MAY_CHECK)
    window.session.sign_in(was)
    now = Person(was.code, was.name, (Role.MECHANIC,), Level.NONE, badge=was.badge)
    people.put_person(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), now)
    p = Pressing(window, qtbot, kestrel, tmp_path, None)
    PRESSED["make the next label of a pack"](p)
    assert WHO_MAY.search(p.said())
