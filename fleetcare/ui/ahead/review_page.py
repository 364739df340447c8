"""The quarter review: sentences first, packs by name, and what to do about each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.money import show_money
from fleetcare.domain.wording import Message, msg, say, show_chance, word
from fleetcare.ui.widgets.cards import Card, words

if TYPE_CHECKING:
    from fleetcare.services.needing import ModelNeed, NamedPack
    from fleetcare.services.renewal import Renewal
    from fleetcare.services.warranty import Claim

NAMED_SHOWN = 8
CLAIMS_SHOWN = 5
PAIRS_SHOWN = 6


class ReviewPage(QScrollArea):
    """Cards from top to bottom; everything is drawn anew when the fleet was read."""

    open_pack = Signal(str)
    asked_claim = Signal(str)
    asked_plan = Signal()
    asked_tab = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.total = words(size=1.25, bold=True)
        self.plan = QPushButton(word("review.print_plan"))
        self.plan.clicked.connect(self.asked_plan)
        self.cards: dict[str, Card] = {}
        self._inner = QWidget()
        self._column = QVBoxLayout(self._inner)
        self._column.setContentsMargins(2, 6, 10, 8)
        self._column.setSpacing(10)
        self.setWidget(self._inner)

    def show_review(self, found: Renewal, pairs: Sequence[tuple[Message, ...]]) -> None:
        """Draw `found`; `pairs` are the comparisons in sentences."""
        self._clear()
        self.total.setText(say(found.total))
        self._column.addWidget(self.total)
        for told in found.in_doubt_told:
            self._column.addWidget(words(say(told), bold=True))
        self._column.addWidget(words(word("review.range"), quiet=True))
        self._buy(found)
        self._claims(found)
        self._compare(found, pairs)
        self._suspects(found)
        self._stored(found)
        self._sure(found)
        self._column.addStretch(1)

    def _clear(self) -> None:
        for part in (self.total, self.plan):
            part.setParent(self)
            part.hide()
        while (item := self._column.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None and widget not in (self.total, self.plan):
                widget.setParent(None)
                widget.deleteLater()
        self.cards.clear()
        self.total.show()
        self.plan.show()

    def _card(self, name: str, *, button: QPushButton | None = None) -> Card:
        card = Card(word(f"review.{name}"))
        if button is not None:
            row = QHBoxLayout()
            card.column.removeWidget(card.heading)
            row.addWidget(card.heading, 1)
            row.addWidget(button)
            card.column.insertLayout(0, row)
        self.cards[name] = card
        self._column.addWidget(card)
        return card

    def _to_tab(self, card: Card, tab: str, text: str) -> None:
        button = QPushButton(text)
        button.clicked.connect(lambda: self.asked_tab.emit(tab))
        card.column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    # what to buy

    def _buy(self, found: Renewal) -> None:
        card = self._card("buy", button=self.plan)
        for one in found.needs:
            if not one.none:
                self._model(card, one)
        quiet = [one.name for one in found.needs if one.none and one.unknown < one.packs]
        if quiet:
            card.column.addWidget(words(say(msg("needs.quiet", models=tuple(quiet)))))
        for one in found.needs:
            for told in one.left_open_told:
                card.column.addWidget(words(say(told), quiet=True))

    def _model(self, card: Card, one: ModelNeed) -> None:
        card.column.addWidget(words(say(one.heading), bold=True))
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setColumnStretch(1, 1)
        for row, quarter in enumerate(one.quarters):
            when = words(say(msg("needs.quarter", from_date=quarter.from_date, to_date=quarter.to_date)), quiet=True)
            when.setWordWrap(False)
            grid.addWidget(when, row, 0, Qt.AlignmentFlag.AlignTop)
            told = word("needs.no_packs") if quarter.none else say(quarter.told(one.price, one.currency))
            if quarter.others is not None and quarter.named:
                told = f"{told}\n{_capital(say(quarter.others))}"
            grid.addWidget(words(told), row, 1)
        if one.together is not None:
            when = words(say(msg("needs.together", to_date=one.together.to_date)), quiet=True)
            when.setWordWrap(False)
            grid.addWidget(when, len(one.quarters), 0, Qt.AlignmentFlag.AlignTop)
            grid.addWidget(words(say(one.together.told(one.price, one.currency))), len(one.quarters), 1)
        card.column.addLayout(grid)
        named = [pack for quarter in one.quarters for pack in quarter.named]
        self._named(card, named)

    def _named(self, card: Card, named: Sequence[NamedPack]) -> None:
        if not named:
            card.column.addWidget(words(word("needs.none_named"), quiet=True))
            return
        card.column.addWidget(words(word("needs.named"), quiet=True))
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(3, 1)
        for row, pack in enumerate(named[:NAMED_SHOWN]):
            grid.addWidget(self._pack_button(pack.code), row, 0)
            chance = words(show_chance(pack.chance), bold=True)
            chance.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            grid.addWidget(chance, row, 1)
            when = words(say(msg("needs.quarter", from_date=pack.from_date, to_date=pack.to_date)), quiet=True)
            when.setWordWrap(False)
            grid.addWidget(when, row, 2)
            grid.addWidget(words(say(pack.why)), row, 3)
        card.column.addLayout(grid)
        if len(named) > NAMED_SHOWN:
            self._to_tab(card, "needs", say(msg("needs.more", count=len(named) - NAMED_SHOWN)))

    def _pack_button(self, code: str) -> QPushButton:
        button = QPushButton(code)
        button.clicked.connect(lambda: self.open_pack.emit(code))
        return button

    # warranty

    def _claims(self, found: Renewal) -> None:
        card = self._card("warranty")
        card.column.addWidget(words(say(found.claims_told), bold=any(one.worth for one in found.claims)))
        for one in found.claims[:CLAIMS_SHOWN]:
            card.column.addWidget(self._claim(one))
        if len(found.claims) > CLAIMS_SHOWN:
            self._to_tab(card, "claims", say(msg("review.open_tab", count=len(found.claims))))

    def _claim(self, one: Claim) -> QWidget:
        box = QFrame()
        grid = QGridLayout(box)
        grid.setContentsMargins(0, 4, 0, 4)
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(1, 1)
        grid.addWidget(self._pack_button(one.pack), 0, 0, Qt.AlignmentFlag.AlignTop)
        found = say(one.finding or msg("warranty.nothing_found"))
        price = "" if one.terms.price is None else f" · {show_money(one.terms.price, one.terms.currency)}"
        grid.addWidget(words(f"{one.model} · {say(one.time_left)}{price}", bold=True), 0, 1)
        file = QPushButton(word("review.claim_file"))
        file.clicked.connect(lambda: self.asked_claim.emit(one.pack))
        grid.addWidget(file, 0, 2, Qt.AlignmentFlag.AlignTop)
        clause = say(msg("warranty.quote", clause=one.terms.clause)) if one.terms.clause else word("warranty.no_clause")
        grid.addWidget(words(f"{word('warranty.clause')}: {clause}"), 1, 1, 1, 2)
        row = 2
        if one.terms.speaks_of_hire:
            warning = words(word("warranty.hire"))
            warning.setProperty("role", "wrong")
            grid.addWidget(warning, row, 1, 1, 2)
            row += 1
        grid.addWidget(words(f"{_capital(found)}; {say(one.state)}."), row, 1, 1, 2)
        return box

    # the rest

    def _compare(self, found: Renewal, pairs: Sequence[tuple[Message, ...]]) -> None:
        card = self._card("compare")
        if found.compared_told is not None:
            card.column.addWidget(words(say(found.compared_told)))
        told = sorted(zip(found.pairs, pairs, strict=True), key=lambda one: (one[0].better is None, not one[0].ranked))
        for pair, (first, second, verdict) in told[:PAIRS_SHOWN]:
            box = QWidget()
            column = QVBoxLayout(box)
            column.setContentsMargins(0, 0, 0, 6)
            column.setSpacing(3)
            heading = say(msg("lasting.pair", first=pair.first.model, second=pair.second.model))
            column.addWidget(words(heading, bold=True))
            for one in (first, second, verdict):
                column.addWidget(words(say(one)))
            card.column.addWidget(box)
        if len(told) > PAIRS_SHOWN:
            card.column.addWidget(words(say(msg("lasting.more", count=len(told) - PAIRS_SHOWN)), quiet=True))
        if found.half_lives_told:
            card.column.addWidget(words(word("review.half"), bold=True))
        for one in found.half_lives_told:
            card.column.addWidget(words(say(one)))
        if found.lives:
            card.column.addWidget(words(word("review.compare_by_age"), quiet=True))

    def _suspects(self, found: Renewal) -> None:
        card = self._card("measure")
        if found.meter_suspects:
            card.column.addWidget(words(say(msg("suspect.meters", count=len(found.meter_suspects))), bold=True))
        told = msg("review.suspects", count=len(found.suspects)) if found.suspects else msg("review.no_suspects")
        card.column.addWidget(words(say(told)))
        if not found.suspects and not found.meter_suspects:
            return
        self._to_tab(card, "suspects", word("review.suspects_tab"))

    def _stored(self, found: Renewal) -> None:
        if not found.running_low:
            return
        card = self._card("stored")
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setColumnStretch(1, 1)
        for row, one in enumerate(found.running_low[:NAMED_SHOWN]):
            grid.addWidget(self._pack_button(one.pack), row, 0, Qt.AlignmentFlag.AlignTop)
            grid.addWidget(words(_capital(say(one.ahead))), row, 1)
        card.column.addLayout(grid)
        if len(found.running_low) > NAMED_SHOWN:
            more = msg("overview.more", count=len(found.running_low) - NAMED_SHOWN)
            card.column.addWidget(words(say(more), quiet=True))

    def _sure(self, found: Renewal) -> None:
        card = self._card("sure")
        card.column.addWidget(words(say(found.kept_told)))
        self._to_tab(card, "sure", word("review.how_sure_open"))


def _capital(text: str) -> str:
    """`text` as the beginning of a line."""
    return f"{text[:1].upper()}{text[1:]}"
