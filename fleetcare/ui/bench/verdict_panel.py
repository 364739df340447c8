"""What the check means, as it is typed: verdict, rule and number, comparison, next safe step."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetcare.domain.checks import VoltageCheck
from fleetcare.domain.judging import tidy_ohm
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services.goes_out import GoesOut
from fleetcare.services.record import Preview
from fleetcare.services.shown import Recorded, headline_now, step_now
from fleetcare.ui import colours
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import Card, words


class VerdictPanel(Card):
    """Empty until there is something to say; large when something was saved."""

    def __init__(self) -> None:
        super().__init__(word("bench.verdict"))
        self.setAccessibleName(word("bench.verdict"))
        self.badge = Badge()
        self.badge.setFont(sized(1.6, bold=True))
        self.badge.hide()
        self.headline = words(word("bench.verdict_wait"), size=1.1)
        self.lines = QVBoxLayout()
        self.lines.setSpacing(4)
        self.column.addWidget(self.badge, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(self.headline)
        self.column.addLayout(self.lines)
        self.column.addStretch(1)
        self._done: Recorded | None = None
        self._pack = ""
        self._added: list[str] = []

    @property
    def told_of(self) -> str:
        """The pack whose saved check is told of, or "" while none is."""
        return self._pack

    def _forget(self) -> None:
        self._done, self._pack, self._added = None, "", []

    def wait(self) -> None:
        """Nothing to judge yet."""
        self._forget()
        self.badge.hide()
        self.headline.show()
        self.headline.setText(word("bench.verdict_wait"))
        self._say([])

    def preview(self, check: VoltageCheck, preview: Preview) -> None:
        """What this check would mean."""
        self._forget()
        verdict = preview.verdict
        self._head(verdict.level, headline_now(verdict, preview.held, preview.stays))
        lines: list[tuple[str, bool]] = [(say(one.statement), False) for one in verdict.findings]
        if verdict.resistance_ohm is not None and verdict.sag_v is not None:
            sag = msg(
                "bench.resistance",
                resistance_ohm=tidy_ohm(verdict.resistance_ohm),
                sag_v=verdict.sag_v,
                load_a=check.load_a,
            )
            lines.insert(0, (say(sag), False))
        lines.append((say(preview.comparison.statement if preview.comparison else msg("compare.none")), False))
        lines.append((say(msg("bench.next_step", step=step_now(verdict, preview.held, preview.stays))), True))
        if preview.next_due is not None and verdict.hold_class is None and not preview.held:
            lines.append((say(msg("bench.next_due", due_date=preview.next_due)), False))
        self._say(lines)

    def saved(self, done: Recorded, pack: str = "") -> None:
        """Large confirmation of what was saved about `pack`, and first what others saved meanwhile."""
        if done.verdict is None:
            return
        self._forget()
        self._pack = pack
        self._tell(done)

    def renew(self, after: GoesOut) -> None:
        """What was saved stays; what follows from it is told as it stands now."""
        if self._done is None or self._done.verdict is None:
            return
        due_on = after.due_on if self._done.verdict.valid else None
        self._tell(replace(self._done, next_due=due_on, held=after.held, stays=after.stays))

    def _tell(self, done: Recorded) -> None:
        assert done.verdict is not None
        self._done = done
        self._head(done.verdict.level, done.message)
        lines = [(say(one), True) for one in done.meanwhile]
        if lines:
            lines.insert(0, (word("meanwhile.heading"), False))
        statements = [say(one.statement) for one in done.verdict.findings]
        lines += [(one, False) for one in statements if one not in say(done.message)]
        lines.append((say(msg("bench.next_step", step=step_now(done.verdict, done.held, done.stays))), True))
        if done.next_due is not None and done.verdict.hold_class is None and not done.held:
            lines.append((say(msg("bench.next_due", due_date=done.next_due)), False))
        lines += [(one, True) for one in self._added]
        self._say(lines)

    def add(self, text: str) -> None:
        """One more line below: what was decided about it."""
        self._added.append(text)
        self.lines.addWidget(words(text, bold=True))

    def text(self) -> str:
        """All that the panel says, for tests and for a screen reader."""
        shown = [self.badge.accessibleName()] if self.badge.isVisibleTo(self) else []
        shown += [self.headline.text()] if self.headline.isVisibleTo(self) else []
        shown += [self.lines.itemAt(i).widget().text() for i in range(self.lines.count())]  # type: ignore[union-attr]
        return "\n".join(shown)

    def _head(self, level: object, headline: Message) -> None:
        self.badge.show_state(colours.of_verdict(level), word(f"verdict.{level}"))  # type: ignore[arg-type]
        self.badge.show()
        self.headline.setText(say(headline))
        self.headline.setVisible(say(headline).casefold() != word(f"verdict.{level}").casefold())

    def _say(self, lines: list[tuple[str, bool]]) -> None:
        while (item := self.lines.takeAt(0)) is not None:
            old = item.widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()
        for text, bold in lines:
            self.lines.addWidget(words(text, bold=bold))
        self.setAccessibleDescription(" ".join(text for text, _ in lines))
