"""Palettes, type and text size: one calm look for bench, board and desk."""

from __future__ import annotations

from PySide6.QtGui import QColor, QFont, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication

from fleetcare.resource_files import font_file, shipped

FAMILY = "DejaVu Sans"
BASE_POINTS = 10.5
LARGE_POINTS = 14.0
"""From this size of text on, what stands side by side comes one below the other, and tables have fewer columns."""

_ROLES = (
    QPalette.ColorRole.Window, QPalette.ColorRole.WindowText, QPalette.ColorRole.Base,
    QPalette.ColorRole.AlternateBase, QPalette.ColorRole.Text, QPalette.ColorRole.Button,
    QPalette.ColorRole.ButtonText, QPalette.ColorRole.ToolTipBase, QPalette.ColorRole.ToolTipText,
    QPalette.ColorRole.Highlight, QPalette.ColorRole.HighlightedText, QPalette.ColorRole.Link,
    QPalette.ColorRole.PlaceholderText, QPalette.ColorRole.Mid,
)  # fmt: skip
_COLOURS = {
    "light": ("#f3f4f2", "#1c2321", "#ffffff", "#f8f9f7", "#1c2321", "#e7e9e5", "#1c2321", "#1c2321", "#ffffff",
              "#31576b", "#ffffff", "#1f5f8b", "#626c68", "#8b948f"),
    "dark": ("#1d2221", "#eef1ef", "#141817", "#191e1d", "#eef1ef", "#2c3331", "#eef1ef", "#2c3331", "#eef1ef",
             "#3f7591", "#ffffff", "#7db7dd", "#9aa5a0", "#6d7773"),
}  # fmt: skip
_QUIET = {"light": "#59625e", "dark": "#a7b1ac"}
_WRONG = {"light": "#8a4b00", "dark": "#f0b35a"}


def apply(app: QApplication, theme: str, text_percent: int) -> None:
    """Set style, palette, fonts and text size for the whole program."""
    app.setStyle("Fusion")
    if app.property("theme") is None:
        for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"):
            QFontDatabase.addApplicationFont(str(font_file(name)))
    font = QFont(FAMILY)
    font.setPointSizeF(BASE_POINTS * text_percent / 100)
    app.setFont(font)
    palette = QPalette()
    for role, colour in zip(_ROLES, _COLOURS[theme], strict=True):
        palette.setColor(role, QColor(colour))
    for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(_QUIET[theme]))
    app.setPalette(palette)
    app.setProperty("theme", theme)
    app.setStyleSheet(_sheet(theme, text_percent))


def _sheet(theme: str, text_percent: int) -> str:
    tall = "1.6em" if text_percent <= 150 else "1.2em"  # letters of 200 % make a target high enough by themselves
    tab_air = 11 if text_percent <= 125 else 4  # large words need the room, so that no tab hides behind an arrow
    line = "#b9c0bb" if theme == "light" else "#4a5451"
    edge = "#6b7570" if theme == "light" else "#8a948f"
    focus = "#1f5f8b" if theme == "light" else "#7db7dd"
    arrow = (shipped("resources") / "icons" / f"down-{theme}.svg").as_posix()
    white = (shipped("resources") / "icons" / "down-dark.svg").as_posix()
    tick = (shipped("resources") / "icons" / "tick.svg").as_posix()
    return f"""
    QLineEdit, QComboBox, QPlainTextEdit, QDateEdit {{
        border: 1px solid {edge}; border-radius: 4px; padding: 4px 8px; min-height: {tall};
    }}
    QLineEdit:focus, QComboBox:focus, QPlainTextEdit:focus {{ border: 2px solid {focus}; padding: 3px 7px; }}
    QComboBox {{ combobox-popup: 0; }}
    QComboBox QAbstractItemView {{ border: 1px solid {edge}; padding: 2px; }}
    QComboBox QAbstractItemView::item {{ min-height: 1.7em; padding: 0 6px; }}
    QTabWidget::pane {{ border: 1px solid {line}; border-radius: 2px; top: -1px; }}
    QTabBar::tab {{ padding: 5px {tab_air}px; margin-right: 2px; border: 1px solid {line}; border-bottom: 0;
        border-top-left-radius: 4px; border-top-right-radius: 4px; background: palette(button); }}
    QTabBar::tab:selected {{ background: palette(window); border-top: 3px solid {focus}; padding-top: 3px; }}
    QTabBar::tab:focus {{ text-decoration: underline; }}
    QComboBox::drop-down {{ border: 0; width: 26px; }}
    QComboBox::down-arrow {{ image: url({arrow}); width: 12px; height: 8px; }}
    QPushButton {{ border: 1px solid {edge}; border-radius: 4px; padding: 5px 14px; min-height: {tall};
        background: palette(button); }}
    QPushButton[role="small"] {{ padding: 1px 9px; min-height: {"1.45em" if text_percent <= 150 else tall}; }}
    QPushButton:focus {{ border: 2px solid {focus}; padding: 4px 13px; }}
    QPushButton::menu-indicator {{ image: url({arrow}); width: 9px; height: 6px; subcontrol-position: right center;
        right: 7px; }}
    QPushButton::menu-indicator:checked {{ image: url({white}); }}
    QPushButton:checked {{ background: palette(highlight); color: palette(highlighted-text); }}
    QPushButton:checked:focus {{ text-decoration: underline; }}
    QPushButton:hover {{ border-color: {focus}; }}
    QPushButton:disabled {{ color: {_QUIET[theme]}; border-color: {line}; }}
    QCheckBox::indicator, QRadioButton::indicator {{ width: 1.1em; height: 1.1em; border: 2px solid {edge};
        border-radius: 3px; background: palette(base); }}
    QRadioButton::indicator {{ border-radius: 0.6em; }}
    QCheckBox::indicator:focus, QRadioButton::indicator:focus {{ border-color: {focus}; }}
    QCheckBox::indicator:checked {{ background: palette(highlight); image: url({tick}); }}
    QRadioButton::indicator:checked {{ background: palette(highlight); }}
    QCheckBox:focus, QRadioButton:focus {{ text-decoration: underline; }}
    QFrame[card="true"] {{ background: palette(base); border: 1px solid {line}; border-radius: 6px; }}
    QLabel[role="quiet"] {{ color: {_QUIET[theme]}; }}
    QLabel[role="wrong"] {{ color: {_WRONG[theme]}; font-weight: bold; }}
    QTableView {{ border: 1px solid {line}; gridline-color: {line}; }}
    QTableView:focus {{ border: 2px solid {focus}; }}
    QHeaderView::section {{ padding: 5px 6px; border: 0; border-right: 1px solid {line};
        border-bottom: 1px solid {line}; background: palette(button); font-weight: bold; }}
    QStatusBar {{ border-top: 1px solid {line}; }}
    """


def current() -> str:
    """The theme in force: "light" or "dark"."""
    app = QApplication.instance()
    return str(app.property("theme") or "light") if app is not None else "light"


def large_text() -> bool:
    """True where the text is so large that a row of fields does not fit the window."""
    return QApplication.font().pointSizeF() > LARGE_POINTS


def sized(factor: float, *, bold: bool = False) -> QFont:
    """The program's font, `factor` times its size."""
    font = QFont(QApplication.font())
    font.setPointSizeF(font.pointSizeF() * factor)
    font.setBold(bold)
    return font
