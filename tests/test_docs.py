"""The documents tell the truth: links lead somewhere, pictures are there, commands exist."""

import argparse
import re
from pathlib import Path

import pytest

from fleetcare.cli.commands import parser

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


def test_no_two_decisions_share_a_number_and_each_says_its_own() -> None:
    pages = sorted((ROOT / "docs" / "decisions").glob("*.md"))
    numbers = [int(p.name[:4]) for p in pages]
    assert len(set(numbers)) == len(numbers)
    assert all(p.read_text("utf-8").startswith(f"# {number}. ") for p, number in zip(pages, numbers, strict=True))


COMMAND = re.compile(r"fleetcare ([a-z]+)(?: ([a-z]+))?(?![\w.])")
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
PARTS = re.compile(r"((?:`[\w_]+`(?:, | and )?)+) in `([\w/]+\.py)`")


def _options() -> dict[tuple[str, ...], set[str]]:
    """Every command by its words, and its options."""

    def below(one: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
        found = [action.choices for action in one._actions if isinstance(action, argparse._SubParsersAction)]
        return dict(found[0]) if found else {}

    known = {}
    for name, command in below(parser()).items():
        for words, one in (((name,), command), *(((name, kind), kind_of) for kind, kind_of in below(command).items())):
            known[words] = {option for action in one._actions for option in action.option_strings}
    return known


def test_every_command_and_option_that_a_page_names_is_there() -> None:
    known = _options()
    wrong = []
    for page in PAGES:
        if page.parent.name == "decisions" or page.name == "changelog.md":
            continue  # they tell what was, too
        for code in re.findall(r"`([^`]+)`", page.read_text("utf-8")):
            if found := COMMAND.match(code):
                words = tuple(filter(None, found.groups()))
                options = known.get(words[:1], set()) | known.get(words, set())
                if words[:1] not in known or not set(OPTION.findall(code)) <= options:
                    wrong.append((page.name, code))
            elif code.startswith("--") and not set(OPTION.findall(code)) <= set().union(*known.values()):
                wrong.append((page.name, code))
    assert wrong == []


def test_the_page_of_the_command_line_names_every_command() -> None:
    text = (ROOT / "docs" / "command-line.md").read_text("utf-8")
    kinds = _options()
    whole = [
        words
        for words in kinds
        if len(words) == 2 or not any(other[:1] == words and len(other) == 2 for other in kinds)
    ]
    assert [words for words in whole if f"`fleetcare {' '.join(words)}" not in text] == []


def test_what_the_developers_table_says_is_in_a_file_is_in_it() -> None:
    wrong = []
    for names, place in PARTS.findall((ROOT / "DEVELOPERS.md").read_text("utf-8")):
        text = (ROOT / "fleetcare" / place).read_text("utf-8")
        wrong += [(name, place) for name in re.findall(r"`(\w+)`", names) if not re.search(rf"\b{name}\b", text)]
    assert wrong == []
