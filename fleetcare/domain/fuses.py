"""Fuses: what may be fitted, and what a fuse does and does not protect.

Facts of blade fuses after ISO 8820-3:2015 (types C, E and F, rated 32 V or 58 V DC, up to 100 A,
breaking capacity 1 000 A).  Above its voltage rating a fuse's element melts and the DC arc may go on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import PackModel, ServiceNotes
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg

STANDARD_A = tuple(Decimal(a) for a in ("1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30", "35", "40"))
"""Ratings of blade types C and F, as their makers' colour lists give them; 45 A is not among them."""

LARGE_STANDARD_A = tuple(Decimal(a) for a in ("20", "30", "40", "50", "60", "70", "80"))
"""Ratings of blade type E, as makers' colour lists give them."""

BLOWN_WINDOW_DAYS = 30
"""A second blown fuse within these days pulls the pack; both ends count (proposal of this program)."""


class Body(StrEnum):
    """Bodies of fuses; blade types after ISO 8820-3."""

    TYPE_C = "type_c"
    TYPE_F = "type_f"
    TYPE_E = "type_e"
    OTHER = "other"


class Position(StrEnum):
    """Which fuse of the pack."""

    DISCHARGE = "discharge"
    CHARGE = "charge"


COLOURS: dict[str, Decimal] = {
    "black": Decimal("1"), "grey": Decimal("2"), "violet": Decimal("3"), "pink": Decimal("4"), "tan": Decimal("5"),
    "brown": Decimal("7.5"), "red": Decimal("10"), "blue": Decimal("15"), "yellow": Decimal("20"), "clear": Decimal("25"),
    "green": Decimal("30"), "blue-green": Decimal("35"), "orange": Decimal("40"),
}  # fmt: skip
"""Colour to amps of types C and F (makers' colour lists).  Type E repeats colours for other amps."""

LARGE_COLOURS: dict[str, Decimal] = {
    "yellow": Decimal("20"), "green": Decimal("30"), "orange": Decimal("40"), "red": Decimal("50"),
    "blue": Decimal("60"), "brown": Decimal("70"), "tan": Decimal("70"), "clear": Decimal("80"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FuseSpec:
    """A fuse as read off its own body: amps, DC volts, body, part number, colour ("" when not looked at)."""

    rated_a: Decimal
    dc_v: Decimal | None
    body: Body
    part_number: str = ""
    colour: str = ""


@dataclass(frozen=True, slots=True)
class FuseWork:
    """A fuse was looked at, and perhaps changed.  `blown` needs a `cause`, or `not_found`.

    `fitted` is the new fuse, or None when none was fitted.
    """

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    position: Position
    blown: bool
    cause: str = ""
    not_found: bool = False
    fitted: FuseSpec | None = None
    remark: str = ""
    procedure: str = added_later("")

    def __post_init__(self) -> None:
        if self.blown and not self.cause.strip() and not self.not_found:
            raise EntryRefused("fuse.needs_cause", field="cause")


def next_lower(rated_a: Decimal, body: Body) -> Decimal | None:
    """The next lower standard rating below `rated_a`, or None."""
    ratings = LARGE_STANDARD_A if body is Body.TYPE_E else STANDARD_A
    return max((a for a in ratings if a < rated_a), default=None)


@dataclass(frozen=True, slots=True)
class MakersFuse:
    """The fuse that the maker names for one position of a model; `dc_v` None where only the pack's volts rule."""

    rated_a: Decimal
    dc_v: Decimal | None
    body: str
    part: str


def makers_fuse(model: PackModel, notes: ServiceNotes | None, position: Position) -> MakersFuse | None:
    """The maker's fuse for `position`, or None where amps or body are not on record.

    The charge fuse is the smaller one: the figures of the discharge fuse never stand in for it.
    """
    if notes is None:
        return None
    if position is Position.CHARGE:
        if notes.charge_fuse_a is None or not notes.charge_fuse_body:
            return None
        return MakersFuse(notes.charge_fuse_a, model.fuse_dc_v, notes.charge_fuse_body, notes.charge_fuse_part)
    if model.fuse_a is None or not notes.fuse_body:
        return None
    return MakersFuse(model.fuse_a, model.fuse_dc_v, notes.fuse_body, notes.fuse_part)


def refuse_wrong(
    spec: FuseSpec, model: PackModel, notes: ServiceNotes | None, position: Position = Position.DISCHARGE
) -> None:
    """Raises EntryRefused, with the rule and the number, unless `spec` may be fitted to a pack of `model`.

    Amps never above the maker's; the next lower standard rating only where the maker allows it.  The DC
    volt rating at or above the pack's charge-end voltage, and the maker's where it is stated.  The same
    body.  An unusual rating needs its part number.
    """
    maker = makers_fuse(model, notes, position)
    if maker is None or notes is None:
        where = msg(f"fuse_position.{position.value}")
        raise EntryRefused("fuse.no_rule", field="rated_a", model=model.name, position=where)
    if spec.dc_v is None:
        raise EntryRefused("fuse.needs_volts", field="dc_v", full_v=model.full_v)
    if spec.dc_v < model.full_v:
        raise EntryRefused("fuse.low_volts", field="dc_v", fuse_vdc=spec.dc_v, full_v=model.full_v)
    if maker.dc_v is not None and spec.dc_v < maker.dc_v:
        raise EntryRefused("fuse.below_maker_volts", field="dc_v", fuse_vdc=spec.dc_v, maker_vdc=maker.dc_v)
    if spec.body.value != maker.body:
        raise EntryRefused("fuse.other_body", field="body", body=_body(spec.body.value), needs=_body(maker.body))
    amps = {"rated_amp": spec.rated_a, "maker_amp": maker.rated_a}
    if spec.rated_a > maker.rated_a:
        raise EntryRefused("fuse.too_high", field="rated_a", **amps)
    if spec.rated_a < maker.rated_a:
        lower = next_lower(maker.rated_a, spec.body)
        if not notes.next_lower_fuse:
            raise EntryRefused("fuse.lower_not_allowed", field="rated_a", **amps)
        if spec.rated_a != lower:
            raise EntryRefused("fuse.not_next_lower", field="rated_a", rated_amp=spec.rated_a, next_amp=lower)
    if unusual(spec) and not spec.part_number.strip():
        raise EntryRefused("fuse.unusual", field="part_number", rated_amp=spec.rated_a)
    wrong = contradiction(spec)
    if wrong is not None:
        raise EntryRefused(wrong.key, field="colour", **dict(wrong.values))


def part_words(number: str) -> Message | str:
    """A part number as it follows the body in a sentence; nothing where none is on record."""
    return msg("fuse.part", number=number) if number.strip() else ""


def volts_words(rated_v: Decimal | None) -> Decimal | Message:
    """The maker's DC volts as a value of a sentence, or that there are none on record."""
    return msg("fuse.volts_not_stated") if rated_v is None else rated_v


def _body(body: str) -> Message:
    return msg(f"fuse_body.{body}")


def unusual(spec: FuseSpec) -> bool:
    """True for a blade fuse whose amps are no standard value, such as 45 A."""
    if spec.body is Body.OTHER:
        return False
    return spec.rated_a not in (LARGE_STANDARD_A if spec.body is Body.TYPE_E else STANDARD_A)


def contradiction(spec: FuseSpec) -> Message | None:
    """A colour that stands for other amps than were typed, or None; amps are never taken from the colour."""
    if not spec.colour or spec.body is Body.OTHER:
        return None
    means = (LARGE_COLOURS if spec.body is Body.TYPE_E else COLOURS).get(spec.colour)
    if means is None or means == spec.rated_a:
        return None
    colour = msg(f"fuse_colour.{spec.colour.replace('-', '_')}")
    return msg("fuse.colour", colour=colour, means_amp=means, rated_amp=spec.rated_a)


def blown_ruling(work: FuseWork, known: Sequence[FuseWork]) -> dict[str, Ruling]:
    """A second blown fuse within the window pulls the pack and grounds the vehicle; `known` includes `work`.

    The window counts days: every `done_at` is in the depot's own time.

    The first one holds the pack while no fuse was fitted, or while its cause was not found.
    """
    if not work.blown:
        return {}
    day = work.done_at.date()
    near = [
        one
        for one in known
        if one.pack == work.pack and one.blown and abs((one.done_at.date() - day).days) <= BLOWN_WINDOW_DAYS
    ]
    if len(near) < 2:
        if work.fitted is None:
            return {"pack": Ruling(HoldClass.ACTION_DUE, msg("fuse.blown_none_fitted"))}
        return {"pack": Ruling(HoldClass.FAULT, msg("fuse.blown_no_cause"))} if work.not_found else {}
    reason = msg("fuse.second", pack=work.pack, number=len(near), window_days=BLOWN_WINDOW_DAYS)
    found = {"pack": Ruling(HoldClass.FAULT, reason)}
    if work.vehicle is not None:
        found["vehicle"] = Ruling(HoldClass.FAULT, reason)
    return found


# coordination with the battery management's own limit

Gate = tuple[Decimal, Decimal, Decimal | None]
_D = Decimal


def _gate(percent: str, least_s: str, most_s: str | None) -> Gate:
    return _D(percent), _D(least_s), None if most_s is None else _D(most_s)


GATES: dict[Body, tuple[Gate, ...]] = {
    Body.TYPE_C: (
        _gate("100", "360000", None), _gate("135", "0.75", "600"), _gate("200", "0.15", "5"),
        _gate("350", "0.08", "0.5"), _gate("600", "0", "0.15"),
    ),
    Body.TYPE_E: (
        _gate("100", "360000", None), _gate("135", "60", "1800"), _gate("200", "2", "50"), _gate("350", "0.2", "7"),
        _gate("600", "0.04", "1"),
    ),
}  # fmt: skip
"""Opening time in seconds, least and most, at percent of the rating.

Source: makers' published sheets of 35 and 40 A blade fuses of type C and of 40 A of type E.  No sheet was
read for type F, so that it has no bracket here.
"""

COORDINATION_PERCENT = (100, 135, 150, 200, 350, 600)


@dataclass(frozen=True, slots=True)
class Bracket:
    """How soon a fuse opens at a current: never one number.  `most_s` None: it may never open."""

    current_a: Decimal
    percent: Decimal
    least_s: Decimal | None
    most_s: Decimal | None

    @property
    def words(self) -> Message:
        """The bracket in words."""
        if self.least_s is None:
            return msg("fuse.no_opening")
        if self.most_s is None:
            return msg("fuse.may_never", least=_seconds(self.least_s))
        if self.least_s == 0:
            return msg("fuse.within", most=_seconds(self.most_s))
        return msg("fuse.between", least=_seconds(self.least_s), most=_seconds(self.most_s))


def _seconds(value: Decimal) -> str:
    if value >= 3600:
        return f"{value / 3600:.0f} h"
    return f"{value.normalize():f} s"


def opening(body: Body, rated_a: Decimal, current_a: Decimal) -> Bracket:
    """The bracket of the opening time of a fuse at `current_a`.

    At a gate the gate's own figures hold.  Between two gates: the least time of the upper and the most
    time of the lower one.  Below 100 % no opening is expected.  Raises KeyError for a body without gates.
    """
    gates = GATES[body]
    percent = current_a * 100 / rated_a
    if percent < gates[0][0]:
        return Bracket(current_a, percent, None, None)
    for number, (at, least, most) in enumerate(gates):
        if percent == at:
            return Bracket(current_a, percent, least, most)
        if number + 1 < len(gates) and percent < gates[number + 1][0]:
            return Bracket(current_a, percent, gates[number + 1][1], most)
    return Bracket(current_a, percent, _D(0), gates[-1][2])


@dataclass(frozen=True, slots=True)
class Coordination:
    """Battery management limit against fuse, for one pack model."""

    rows: tuple[tuple[Bracket, Message], ...]
    gap: Message


def coordination(model: PackModel, notes: ServiceNotes | None) -> Coordination:
    """At which currents which of the two acts; EntryRefused where a figure is not on record."""
    if model.bms_limit_a is None or model.fuse_a is None or notes is None or not notes.fuse_body:
        raise EntryRefused("fuse.no_coordination", field="pack", model=model.name)
    body = Body(notes.fuse_body)
    if body not in GATES:
        raise EntryRefused("fuse.no_gates", field="pack", body=_body(body.value))
    limit, rated = model.bms_limit_a, model.fuse_a
    currents = sorted({limit, *(rated * percent / 100 for percent in COORDINATION_PERCENT)})
    rows = tuple((bracket := opening(body, rated, a), _acts(bracket, limit)) for a in currents)
    if limit < rated:
        gap = msg("fuse.gap", limit_amp=limit, rated_amp=rated)
    else:
        gap = msg("fuse.fuse_first", limit_amp=limit, rated_amp=rated)
    return Coordination(rows, gap)


def _acts(bracket: Bracket, limit_a: Decimal) -> Message:
    if bracket.current_a <= limit_a:
        return msg("fuse.normal" if bracket.least_s is None else "fuse.only_fuse")
    if bracket.least_s is None or bracket.most_s is None:
        return msg("fuse.only_bms", limit_amp=limit_a)
    return msg("fuse.both", limit_amp=limit_a)
