"""Who is not here, and which vehicle is away: what a plan of work must go around."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused


@dataclass(frozen=True, slots=True)
class Absence:
    """A person does no checks from `from_date` to `to_date`, both included; "" as person: the whole depot.

    A later record with the same person, depot and `from_date` takes its place; `withdrawn` takes it back.
    """

    person: str
    depot: str
    from_date: dt.date
    to_date: dt.date
    done_at: dt.datetime
    reason: str
    withdrawn: bool = False

    def __post_init__(self) -> None:
        if self.to_date < self.from_date:
            raise EntryRefused("absence.backwards", field="to_date", from_date=self.from_date, to_date=self.to_date)

    @property
    def identity(self) -> tuple[str, str, dt.date]:
        """What a later record must share to take the place of this one."""
        return self.person, self.depot, self.from_date

    def covers(self, day: dt.date) -> bool:
        """True on the days of the absence, unless it was withdrawn."""
        return not self.withdrawn and self.from_date <= day <= self.to_date


@dataclass(frozen=True, slots=True)
class Away:
    """A vehicle with its packs is away (on hire, at the maker) from `from_date`, and back on `back_date`.

    A later record with the same vehicle and `from_date` takes its place; `withdrawn` takes it back.
    """

    vehicle: str
    from_date: dt.date
    back_date: dt.date
    done_at: dt.datetime
    reason: str
    withdrawn: bool = False

    def __post_init__(self) -> None:
        if self.back_date < self.from_date:
            raise EntryRefused("absence.backwards", field="back_date", from_date=self.from_date, to_date=self.back_date)

    @property
    def identity(self) -> tuple[str, dt.date]:
        """What a later record must share to take the place of this one."""
        return self.vehicle, self.from_date

    def covers(self, day: dt.date) -> bool:
        """True from the first day until the day before it is back."""
        return not self.withdrawn and self.from_date <= day < self.back_date
