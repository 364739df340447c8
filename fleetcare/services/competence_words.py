"""The matrix of competence in words, the same for screen, paper and command line."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain.competence import State
from fleetcare.domain.packs import Level
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.services.competence import Cell, MatrixRow


def firm_text(row: MatrixRow) -> str:
    """The contractor's firm, or that it is own staff."""
    return row.person.firm or word("competence.own_staff")


def person_text(row: MatrixRow) -> str:
    """The name, with the firm of a contractor."""
    return f"{apart(row.person.name)} ({apart(row.person.firm)})" if row.person.firm else row.person.name


def level_text(row: MatrixRow) -> str:
    """What the person may do today; with the granted level where that is less."""
    level = msg(f"level.{row.level.value}")
    if not row.expired:
        return say(level)
    return say(msg("competence.reduced", level=level, granted=msg(f"level.{row.person.level.value}")))


def granted_text(row: MatrixRow, today: dt.date) -> str:
    """The granted level with its end in words."""
    level = word(f"level.{row.person.level.value}")
    until = row.person.level_until
    if until is None or row.person.level is Level.NONE:
        return level
    return f"{level}, {_end(row.level_state, until, today)}"


def _end(state: State, until: dt.date, today: dt.date) -> str:
    return say(msg(f"competence.state_{state.value}", until_date=until, left_days=(until - today).days))


def cell_text(cell: Cell, today: dt.date) -> str:
    """One training of one person in words."""
    if cell.training is None or cell.state is None:
        return word("competence.never")
    if cell.training.expires_on is None:
        return say(msg("competence.state_no_end", done_date=cell.training.done_on))
    return _end(cell.state, cell.training.expires_on, today)


def next_text(row: MatrixRow) -> str:
    """What takes competence next, and what is left then."""
    if row.next_end is None:
        return "—"
    key = "competence.next_item" if row.next_end.item else "competence.next_level"
    left = msg(f"level.{row.next_end.left.value}")
    return say(msg(key, end_date=row.next_end.on, item=row.next_end.item, level=left))
