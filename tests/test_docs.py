"""The documents tell the truth: links lead somewhere, pictures are there, commands exist."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
LINK = re.compile(r"\]\(([^)#:]+)\)")
PLACE = re.compile(r"`((?:domain|store|services|reports|ui|cli|docs|packaging|tests|demo_fleet)/[\w/.-]+)`")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_link_and_picture_is_there(page: Path) -> None:
    missing = [link for link in LINK.findall(page.read_text("utf-8")) if not (page.parent / link).exists()]
    assert missing == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_file_that_is_named_exists(page: Path) -> None:
    named = PLACE.findall(page.read_text("utf-8"))
    missing = [one for one in named if not (ROOT / one).exists() and not (ROOT / "fleetcare" / one).exists()]
    assert missing == []


def test_the_readme_states_the_job_for_whom_and_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    for words in (
        "voltmeter",
        "mechanic",
        "dispatcher",
        "manager",
        "python3 packaging/start.py\n",
        "python3 packaging/start.py test\n",
    ):
        assert words in text


def test_every_decision_has_a_number_of_its_own() -> None:
    numbers = [int(p.name[:4]) for p in (ROOT / "docs" / "decisions").glob("*.md")]
    assert len(numbers) == len(set(numbers)) and min(numbers) == 1
