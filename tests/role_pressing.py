"""A press at the window: what it has at hand, and pages and cards filled in and done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import Kestrel


@dataclass
class Pressing:
    """What a press has at hand."""

    window: MainWindow
    qtbot: QtBot
    kestrel: Kestrel
    folder: Path
    ready: Any
    badge: str = ""
    """Badge of whoever is signed in."""
    dialog_said: str = ""

    def wait(self, until: Callable[[], bool]) -> None:
        self.qtbot.waitUntil(until, timeout=15_000)

    def page(self, screen: str, name: str) -> Any:
        """A page of a screen with pages, in view and read anew."""
        self.window.go(screen)
        shown = getattr(self.window, screen)
        page = getattr(shown, name)
        shown.show_page(page)
        QApplication.processEvents()  # a page that was made just now comes into view
        page.refresh()
        return page

    def tab(self, screen: str, name: str) -> Any:
        """A tab of a screen, in view."""
        self.window.go(screen)
        shown = getattr(self.window, screen)
        part = getattr(shown, name)
        for number in range(shown.tabs.count()):
            holder = shown.tabs.widget(number)
            if holder is part or holder.isAncestorOf(part):
                shown.tabs.setCurrentIndex(number)
        return part

    def ask(self, button: QWidget, *typed: str, choose: str = "") -> None:
        """Press a button that opens a dialog, fill its fields in their order there, do it, and close what stays open."""
        said: list[str] = []

        def in_dialog() -> None:
            asked = QApplication.activeModalWidget()
            if not isinstance(asked, AskDialog):
                QTimer.singleShot(30, in_dialog)
                return
            for field, text in zip(asked._fields, typed, strict=False):
                if choose and field.objectName() == "choice":
                    field.choose(choose)  # type: ignore[attr-defined]
                elif text:
                    field.edit.setText(text)
            asked.do.click()
            said.append(" ".join(label.text() for label in asked.findChildren(QLabel) if label.isVisible()))
            asked.close()

        QTimer.singleShot(60, in_dialog)
        button.click()  # type: ignore[attr-defined]
        self.wait(lambda: bool(said))
        self.dialog_said = said[0]

    def said(self) -> str:
        """Everything that can be read in the window, and in the dialog just closed."""
        shown = [one.text() for one in self.window.findChildren(QLabel) if one.isVisible()]
        return " ".join([*shown, self.dialog_said]).replace(self.window.bar.who.text(), "")


Press = Callable[[Pressing], None]


def fill(fields: dict[str, Any], /, **typed: str) -> None:
    """Type into fields by name; a choice chooses."""
    for name, text in typed.items():
        field = fields[name]
        if hasattr(field, "choose"):
            field.choose(text)
        else:
            field.edit.setText(text)


def deed_page(screen: str, name: str, button: str, /, **typed: str) -> Press:
    """A page of fields with one button; "badge" is the own one."""

    def press(p: Pressing) -> None:
        page = p.page(screen, name)
        fill(page.fields, **typed)
        if "badge" in page.fields:
            page.fields["badge"].edit.setText(p.badge)
        getattr(page, button).click()

    return press


def card(screen: str, tab: str, name: str, /, **typed: str) -> Press:
    """A card of fields with its button, in a tab."""

    def press(p: Pressing) -> None:
        shown = getattr(p.tab(screen, tab), name)
        fill(shown.fields, **typed)
        if "badge" in shown.fields:
            shown.fields["badge"].edit.setText(p.badge)
        shown.do.click()

    return press
