"""The board as a page: well-formed, self-contained, readable without colour, escaped, honest about its age."""

import datetime as dt
import shutil
import subprocess
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import msg
from fleetcare.reports import board_page, renewal_sheet
from fleetcare.services import record, summary
from fleetcare.services.renewal_summary import renewal_summary
from tests.kestrel import SUNDAY, Kestrel, build_morning

VOID = {"meta", "circle", "path"}


class Page(HTMLParser):
    """Keeps the tree honest and collects what a reader and a screen reader get."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.text.append(data)

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    yield made
    made.store.close()


def read(kestrel: Kestrel, folder: Path) -> tuple[Page, str]:
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    path = board_page.write(fleet, folder, made_at=kestrel.now)
    assert path.name == "board.html" and [one.name for one in folder.iterdir()] == ["board.html"]
    source = path.read_text("utf-8")
    page = Page()
    page.feed(source)
    page.close()
    assert page.open == []
    return page, source


def test_the_page_says_what_the_board_says(morning: Kestrel, tmp_path: Path) -> None:
    page, _source = read(morning, tmp_path / "out")
    text = " ".join(" ".join(page.text).split())
    for words in ("24 vehicles =", "19 ready", "1 ready, check due", "1 limited", "3 grounded", "as of 2 Nov 2026 06:30",
                  "front brake", "P-1011 (Store)", "Dunn, Pike", "EB-14"):  # fmt: skip
        assert words in text, words
    for state in ("ready", "limited", "grounded"):
        assert state in text


def test_it_can_be_read_by_a_screen_reader(morning: Kestrel, tmp_path: Path) -> None:
    page, _source = read(morning, tmp_path / "out")
    assert page.named("html") == [{"lang": "en"}] and len(page.named("h1")) == 1 and page.named("title")
    assert [a["scope"] for a in page.named("th")].count("col") == 7
    assert [a["scope"] for a in page.named("th")].count("row") == 5 and page.named("caption")
    assert {tag for tag, _ in page.tags} >= {"header", "main", "footer"}
    assert all(a.get("aria-hidden") == "true" for a in page.named("svg"))
    assert page.named("p")[0]["role"] == "status"


def test_it_fetches_nothing_and_runs_nothing_but_its_own(morning: Kestrel, tmp_path: Path) -> None:
    page, source = read(morning, tmp_path / "out")
    for tag, attrs in page.tags:
        assert not {"src", "href", "action", "onclick", "onload", "style"} & attrs.keys(), (tag, attrs)
    policy = next(a["content"] for a in page.named("meta") if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None and policy.startswith("default-src 'none';") and "unsafe" not in policy
    assert "http:" not in source.replace("http-equiv", "") and "https:" not in source


def test_what_people_typed_cannot_become_markup(morning: Kestrel, tmp_path: Path) -> None:
    nasty = '<script>alert("x")</script><img src=x onerror=1>&'
    hold = Hold("vehicle", "EB-11", HoldClass.FAULT, SUNDAY, msg("ground.by_person"), nasty)
    record.set_hold(morning.store, morning.clock, morning.author(), hold)
    page, source = read(morning, tmp_path / "out")
    assert "&lt;script&gt;alert(" in source and source.count("<script>") == 1 and "<img" not in source
    assert nasty in "".join(page.text)


def test_a_folder_that_cannot_be_written_is_said_and_the_old_page_stays(morning: Kestrel, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    read(morning, folder)
    before = (folder / "board.html").read_bytes()
    (folder / ".board.html.new").mkdir()
    with pytest.raises(FileRefused):
        board_page.write(summary.fleet_summary(morning.store, morning.clock), folder, made_at=morning.now)
    assert (folder / "board.html").read_bytes() == before


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no browser here")
def test_an_old_page_turns_grey_by_itself_in_a_browser(morning: Kestrel, tmp_path: Path) -> None:
    def shown(at: dt.datetime) -> str:
        morning.now = at
        folder = tmp_path / f"{at:%H%M%S}"
        read(morning, folder)
        browser = ["chromium", "--headless=new", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}-profile"]
        page = (folder / "board.html").as_uri()
        done = subprocess.run([*browser, "--dump-dom", page], capture_output=True, text=True, timeout=120, check=True)
        return done.stdout

    now = dt.datetime.now(dt.UTC).replace(microsecond=0)
    fresh, old = shown(now), shown(now - dt.timedelta(minutes=40))
    assert 'class="stale"' not in fresh and "do not rely on it</p>" not in fresh
    assert 'class="stale"' in old and "not refreshed for 4" in old and "do not rely on it</p>" in old


def test_the_renewal_summary_is_one_page_with_every_head(morning: Kestrel, tmp_path: Path) -> None:
    import pypdf

    path = tmp_path / "renewal.pdf"
    for page in ("A4", "Letter"):
        renewal_sheet.write(
            renewal_summary(morning.store, morning.clock), path, page=page, printed_by="Ormond", printed_at=morning.now
        )
        read_back = pypdf.PdfReader(path)
        assert len(read_back.pages) == 1
    text = "".join(read_back.pages[0].extract_text().split())
    for words in ("Regular inspection", "Quarantine ends", "Staff trained", "No pack opened", "Nothing recorded",
                  "Serial number on record for 38 of 38", "printed by Ormond", "fingerprint"):  # fmt: skip
        assert "".join(words.split()) in text, words
