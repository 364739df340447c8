"""The structure is run, not promised: layers, file sizes, names, sentences, start-up."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare.domain import wording

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "fleetcare").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
WORDS = ROOT / "fleetcare" / "domain" / "words"


def test_the_import_contracts_hold() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()", "--no-cache"],
        cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-500:]


def test_the_top_level_is_exactly_what_was_agreed() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    named = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "fleetcare",
        "resources",
        "tests",
        "demo_fleet",
        "packaging",
        "docs",
    }
    assert {one for one in top if not one.startswith(".")} <= named


@pytest.mark.parametrize("path", SOURCES + TESTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_file_is_longer_than_600_lines(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= 600


def test_there_are_no_drawers() -> None:
    drawers = [
        p
        for p in SOURCES
        if p.stem in ("utils", "misc", "helpers", "common") or p.parent.name in ("utils", "misc", "helpers", "common")
    ]
    assert drawers == []


def test_packages_hold_nothing_but_modules() -> None:
    full = [
        p for p in SOURCES if p.name == "__init__.py" and p.parent.name != "fleetcare" and p.read_text("utf-8").strip()
    ]
    assert full == []


def test_no_widget_is_asked_for_its_screen() -> None:
    """PySide would take the screen for the widget's child, and destroy it with the widget; `ui.widgets.screens` tells it."""
    asking = re.compile(r"\b(?<!primary)screen\(\)")
    assert [str(p.relative_to(ROOT)) for p in SOURCES + TESTS if asking.search(p.read_text("utf-8"))] == []


def test_every_public_function_and_class_says_what_it_does() -> None:
    silent = []
    for path in SOURCES:
        tree = ast.parse(path.read_text("utf-8"))
        if path.name != "__init__.py" and not ast.get_docstring(tree):
            silent.append(str(path))
        for node in tree.body:
            if (
                isinstance(node, (ast.FunctionDef, ast.ClassDef))
                and not node.name.startswith("_")
                and not ast.get_docstring(node)
            ):
                silent.append(f"{path.relative_to(ROOT)}:{node.name}")
    silent = [one for one in silent if "migrations" not in one]
    assert silent == []


KEY = re.compile(r'"([a-z_]+\.[a-z_0-9]+)"')


def test_every_sentence_that_code_names_is_in_the_catalogue() -> None:
    areas = {key.split(".")[0] for key in wording.catalogue()}
    missing = set()
    for path in SOURCES:
        if path.parent == WORDS:
            continue
        for key in KEY.findall(path.read_text("utf-8")):
            is_file = key.endswith((".py", ".toml", ".csv", ".svg", ".pdf", ".md", ".fleet", ".html"))
            begins = any(known.startswith(key) for known in wording.catalogue())
            if key.split(".")[0] in areas and not begins and not is_file:
                missing.add(f"{path.name}: {key}")
    assert missing == set()


def test_every_enum_value_has_its_words() -> None:
    from fleetcare.domain import checks, packs, status, verdicts

    for area, enum in (("verdict", verdicts.VerdictLevel), ("headline", verdicts.VerdictLevel), ("rest", checks.RestBand),
                       ("check_kind", checks.CheckKind), ("look", checks.LookItem), ("level", packs.Level), ("role", packs.Role),
                       ("board_state", status.BoardState), ("pack_state", status.PackState), ("hold_class", checks.HoldClass),
                       ("trip_cause", checks.TripCause), ("vehicle_kind", packs.VehicleKind)):  # fmt: skip
        for value in enum:
            assert wording.word(f"{area}.{value.value}")


def test_only_light_libraries_are_loaded_before_the_window() -> None:
    code = (
        "import sys; import fleetcare.ui.main_window;"
        "print([m for m in ('pandas', 'scipy', 'pint', 'alembic', 'reportlab', 'openpyxl', 'segno', 'sqlalchemy.orm')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


def test_nothing_committed_names_a_path_of_somebodys_machine() -> None:
    odd = re.compile(r"(?<![\w.])/(?:work|farm|root|home)/[A-Za-z.]")
    named = [
        str(p)
        for p in [*SOURCES, ROOT / "README.md", ROOT / "DEVELOPERS.md"]
        if p.exists() and odd.search(p.read_text("utf-8"))
    ]
    assert named == []
