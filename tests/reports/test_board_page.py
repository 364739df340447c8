"""The board as a page: well-formed, self-contained, readable without colour, escaped, honest about its age."""

import datetime as dt
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

import pytest

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import FileRefused
from fleetcare.domain.packs import Depot
from fleetcare.domain.wording import msg
from fleetcare.reports import board_page, board_sheet, renewal_sheet
from fleetcare.services import attendance, record, summary
from fleetcare.services.renewal_summary import renewal_summary
from tests.kestrel import SUNDAY, Kestrel, build_morning

VOID = {"meta", "circle", "path", "input"}


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
                  "front brake", "Fit P-1011: full at 41.40 V on 1 Nov 2026", "Store, same depot", "Dunn, Pike", "EB-14"):  # fmt: skip
        assert words in text, words
    for state in ("ready", "limited", "grounded"):
        assert state in text


def test_it_can_be_read_by_a_screen_reader(morning: Kestrel, tmp_path: Path) -> None:
    page, _source = read(morning, tmp_path / "out")
    assert page.named("html") == [{"lang": "en"}] and len(page.named("h1")) == 1 and page.named("title")
    assert [(a["scope"], a["role"]) for a in page.named("th")].count(("col", "columnheader")) == 7
    assert [(a["scope"], a["role"]) for a in page.named("th")].count(("row", "rowheader")) == 5 and page.named(
        "caption"
    )
    assert {a["role"] for a in page.named("td")} == {"cell"} and {a["role"] for a in page.named("tr")} == {"row"}
    assert {tag for tag, _ in page.tags} >= {"header", "main", "footer"}
    assert all(a.get("aria-hidden") == "true" for a in page.named("svg"))
    assert [a["id"] for a in page.named("p") if a.get("role") == "status"] == ["old"]
    assert [tag for tag, _ in page.tags if tag in ("h1", "h2", "h3")] == ["h1", "h2", "h2"]


def test_the_reader_may_stop_it_from_loading_itself_again(morning: Kestrel, tmp_path: Path) -> None:
    """WCAG 2.2, 2.2.2, and failure F41 of 2.2.1: no <meta> reloads a page; what moves by itself can be stopped."""
    page, source = read(morning, tmp_path / "out")
    assert not [a for a in page.named("meta") if a.get("http-equiv") == "refresh"]
    assert [a["type"] for a in page.named("input")] == ["checkbox"] and page.named("label")
    assert "if (renew.checked) { location.reload(); }" in source


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """The contrast ratio of WCAG 2.2 between two colours."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_its_words_stand_out_from_their_ground_in_light_and_dark() -> None:
    """WCAG 2.2, 1.4.3: 4.5:1.  The formula against a known pair: grey #767676 on white is 4.54:1 (from memory)."""
    assert round(contrast("#767676", "#ffffff"), 2) == 4.54
    style = board_page._STYLE
    schemes = re.findall(r":root \{([^}]*)\}", style)
    assert len(schemes) == 2, "light and dark"
    for scheme in schemes:
        colour = dict(re.findall(r"--(\w+): (#\w{6})", scheme))
        for name, least in (("ink", 4.5), ("quiet", 4.5), ("line", 3.0)):
            assert contrast(colour[name], colour["ground"]) >= least, (name, scheme)
    badges = re.findall(r"background: (#\w{6}); color: (#\w{6})", style)
    assert len(badges) == 5
    for ground, ink in badges:
        assert contrast(ground, ink) >= 4.5, (ground, ink)


def test_it_says_who_of_them_is_at_work_and_where_a_spare_of_another_depot_lies(
    morning: Kestrel, tmp_path: Path
) -> None:
    with morning.store.view() as view:
        spare = view.thing("pack", "P-1011")
    far = Depot("NQ", "North Quay", distances_km=(("KW", Decimal("4.2")),))
    author = morning.author("ORMOND")
    record.put_things(morning.store, morning.clock, author, ("depot", far), ("pack", replace(spare, depot="NQ")))
    attendance.record_at_work(morning.store, morning.clock, morning.author("HALE"), morning.now.date(), ["PIKE"])
    page, _source = read(morning, tmp_path / "out")
    text = " ".join(" ".join(page.text).split())
    assert "Pike, at work today; Dunn, not at work today" in text
    assert "Store, North Quay, 4.2 km away" in text
    assert [tag for tag, _ in page.tags].count("h3") == 1 and "Kestrel Wharf" in text, "each vehicle with its depot"
    import pypdf

    path = tmp_path / "wall.pdf"
    fleet = summary.fleet_summary(morning.store, morning.clock)
    board_sheet.write(fleet, path, page="A4", printed_by="Hale", printed_at=morning.now)
    printed = "".join(pypdf.PdfReader(path).pages[0].extract_text().split())
    assert "P-1011(Store,NorthQuay,4.2kmaway)" in printed, "the wall says it as well"
    assert "Pike,atworktoday;Dunn,notatworktoday" in printed


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
    assert "<title>OLD: " in old and "<title>OLD: " not in fresh
    hours, days = shown(now - dt.timedelta(hours=7, minutes=5)), shown(now - dt.timedelta(days=3, minutes=5))
    assert "not refreshed for 7 hours: do not rely on it</p>" in hours
    assert "not refreshed for 3 days: do not rely on it</p>" in days
    ahead = shown(now + dt.timedelta(hours=1))
    assert 'class="stale"' in ahead and "clock is behind the board" in ahead, "an age that cannot be told is not young"


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
