"""The file itself goes to the print queue, with what was chosen; where there is none, the pages are drawn and that is said."""

import os
import stat
from pathlib import Path

import pytest
from PySide6.QtCore import QSizeF
from PySide6.QtGui import QPageSize
from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from fleetcare.reports import every_sheet
from fleetcare.reports.every_sheet import Order
from fleetcare.reports.raster import Pages
from fleetcare.ui.papers import handing_over, printing
from tests.kestrel import Kestrel

OPTIONS = ["number-up", "2", "job-billing", "", "page-set", "odd"]
"""What Qt's dialog for CUPS leaves: names and values in turn."""


class Engine:
    def __init__(self, options: list[str] | None) -> None:
        self._options = options

    def property(self, _key: object) -> list[str] | None:
        return self._options


class Office(QPrinter):
    """A printer called "office", of a system with CUPS (`options` a list) or without (None)."""

    options: list[str] | None = OPTIONS
    sides = QPrinter.DuplexMode.DuplexNone

    def duplex(self) -> QPrinter.DuplexMode:
        return self.sides

    def printerName(self) -> str:
        return "office"

    def outputFileName(self) -> str:
        return ""

    def printEngine(self) -> Engine:
        return Engine(self.options)


@pytest.fixture
def queue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A queue's command that writes down what it was given; it fails where a file "broken" lies beside it."""
    folder = tmp_path / "bin"
    folder.mkdir()
    command = folder / "lp"
    command.write_text(f'#!/bin/sh\nprintf "%s\\n" "$@" > "{folder}/given"\n[ ! -e "{folder}/broken" ]\n', "utf-8")
    command.chmod(command.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{folder}{os.pathsep}{os.environ['PATH']}")
    return folder


@pytest.fixture
def paper(kestrel: Kestrel, tmp_path: Path) -> Path:
    path = tmp_path / "round.pdf"
    every_sheet.write(Order("round", "A4", "Dunn", kestrel.now), kestrel.store, kestrel.clock, path)
    return path


def test_copies_pages_paper_and_the_dialogs_options_go_along(queue: Path, paper: Path, qtbot: QtBot) -> None:
    """Words of lp(1) and of IPP (RFC 8011: sides, media, print-scaling, print-color-mode)."""
    printer = Office(QPrinter.PrinterMode.HighResolution)
    printer.setCopyCount(3)
    printer.setFromTo(2, 4)
    printer.sides = QPrinter.DuplexMode.DuplexLongSide
    printer.setColorMode(QPrinter.ColorMode.GrayScale)
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.Letter))
    assert handing_over.handed_over(printer, paper, "round; rm -rf")
    given = (queue / "given").read_text("utf-8").splitlines()
    assert given[:4] == ["-d", "office", "-t", "round; rm -rf"] and given[-1] == str(paper)
    asked = [given[number + 1] for number, word in enumerate(given) if word == "-o"]
    assert given[4:8] == ["-n", "3", "-P", "2-4"]
    assert {"number-up=2", "page-set=odd", "sides=two-sided-long-edge", "media=Letter", "print-scaling=none",
            "print-color-mode=monochrome"} <= set(asked)  # fmt: skip
    assert not any(one.startswith("job-billing") for one in asked), "what has no value is not asked for"


def test_labels_keep_their_own_measures(queue: Path, paper: Path, qtbot: QtBot) -> None:
    printer = Office(QPrinter.PrinterMode.HighResolution)
    printer.setPageSize(QPageSize(QSizeF(142, 85), QPageSize.Unit.Point, "", QPageSize.SizeMatchPolicy.ExactMatch))
    assert handing_over.handed_over(printer, paper, "labels")
    assert "media=Custom.142x85" in (queue / "given").read_text("utf-8").splitlines()


@pytest.mark.parametrize("how", ["taken", "broken", "no queue", "no command"])
def test_where_the_queue_does_not_take_the_file_its_pages_are_drawn_and_that_is_said(
    queue: Path, paper: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    if how == "broken":
        (queue / "broken").touch()
    if how == "no command":
        monkeypatch.setattr("shutil.which", lambda _name: None)
    monkeypatch.setattr(Office, "options", None if how == "no queue" else OPTIONS)
    drawn: list[int] = []
    there = type("There", (), {"isNull": lambda _: False, "state": lambda _: QPrinter.PrinterState.Idle})()
    monkeypatch.setattr(QPrinterInfo, "availablePrinterNames", lambda: ["office"])
    monkeypatch.setattr(QPrinterInfo, "printerInfo", lambda _name: there)
    monkeypatch.setattr(QPrintDialog, "exec", lambda _dialog: QPrintDialog.DialogCode.Accepted)
    monkeypatch.setattr(printing, "QPrinter", Office)
    monkeypatch.setattr(printing, "draw", lambda *_all: drawn.append(1))
    pages, parent = Pages(paper), QWidget()
    qtbot.addWidget(parent)
    said = printing.ask_and_print(parent, pages, "round")
    assert said is not None and said.startswith("Sent to office")
    assert (not drawn) is (how == "taken") is ("as pictures of its pages" not in said)
    pages.close()
