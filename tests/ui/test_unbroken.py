"""No line of the screen ends between a figure and its unit, and nobody who reads the text gets another character."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QListWidget, QStyleOptionViewItem
from pytestqt.qtbot import QtBot

from fleetcare.domain.wording import show_value
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, RowModel, Table
from fleetcare.ui.widgets.unbroken import UnbrokenDelegate, unbroken, unbroken_cell

BOUND = "\N{NO-BREAK SPACE}"
KEPT = (
    "0.309 Ω",
    "41.38 V",
    "8.0 A",
    "21 °C",
    "85 %",
    "± 3",
    "4 Dec",
    "4 Dec 2026",
    "71 days",
    "1 minute",
    "14.5 Ah",
    "4 h",
)


@pytest.mark.parametrize("figure", KEPT)
def test_a_figure_keeps_its_unit_and_a_day_its_month(figure: str) -> None:
    assert unbroken(f"it reads {figure}, which is odd") == f"it reads {figure.replace(' ', BOUND)}, which is odd"


@pytest.mark.parametrize(
    "text", ["2 packs", "in 2026 Dunn", "EB-12 and EB-13", "3 Vans", "no 5 Among", "1 Decent pack"]
)
def test_other_words_may_part(text: str) -> None:
    assert unbroken(text) == text


@pytest.mark.parametrize("name", ["rested_v", "resistance_ohm", "load_a", "bench_c", "wear_percent", "charge_ah"])
def test_every_unit_that_a_sentence_can_have_is_kept(name: str) -> None:
    told = show_value(name, 12.0)
    assert " " in told and " " not in unbroken(told)


def test_a_label_says_what_it_was_given_and_draws_it_unbroken(qtbot: QtBot) -> None:
    label = words("Resistance 0.309 Ω")
    qtbot.addWidget(label)
    assert label.text() == "Resistance 0.309 Ω"
    width = QFontMetrics(label.font()).horizontalAdvance("Resistance 0.309")
    narrow = label.heightForWidth(width + 2)
    label.setText("Resistance 0.309Ω")
    assert narrow == label.heightForWidth(width + 2), "the figure goes to the next line with its unit"
    label.clear()
    assert label.text() == "" and label.heightForWidth(width) <= QFontMetrics(label.font()).height() + 2


def test_a_line_of_a_list_is_drawn_unbroken_and_gives_its_own_text(qtbot: QtBot) -> None:
    entries = QListWidget()
    qtbot.addWidget(entries)
    entries.setItemDelegate(UnbrokenDelegate(entries))
    entries.addItem("P-1002: 0.309 Ω")
    option = QStyleOptionViewItem()
    entries.itemDelegate().initStyleOption(option, entries.model().index(0, 0))
    assert option.text == f"P-1002: 0.309{BOUND}Ω" and entries.item(0).text() == "P-1002: 0.309 Ω"


def test_a_cell_keeps_the_hyphen_of_a_word_and_gives_its_own_text(qtbot: QtBot) -> None:
    assert (
        unbroken_cell("K36-A e-bike pack, EB-12")
        == "K36\N{NON-BREAKING HYPHEN}A e\N{NON-BREAKING HYPHEN}bike pack, EB-12"
    )
    model = RowModel((Column("Model", lambda r: r),))
    table = Table(model, "Rows")
    qtbot.addWidget(table)
    model.set_rows(["e-bike, 41.38 V"])
    assert model.index(0, 0).data(Qt.ItemDataRole.DisplayRole) == "e-bike, 41.38 V"
