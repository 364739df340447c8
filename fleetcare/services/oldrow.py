"""One old row: from its cells to a reading, and from a reading to what may be made of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection
from dataclasses import replace
from decimal import Decimal

from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.oldrows import (
    DateOrder,
    NotANumber,
    OldReading,
    heading_unit,
    in_hours,
    order_shown,
    read_moment,
    read_number,
    shifted,
    two_readings,
)
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services.identify import refuse_misfit
from fleetcare.services.importing import _Asked, _ImportBench

HIGHEST_PACK_V = Decimal(1000)
"""No pack of this trade reaches it, so a larger figure without a unit is a slip or millivolts (common practice)."""

EARLIEST = dt.datetime(1990, 1, 1, tzinfo=dt.UTC)
"""No lithium pack was read before; an older date is a slip (lithium-ion cells are sold since 1991, from memory)."""


class Refused(FleetcareError):
    """The row cannot be taken; the sentence says why."""


class Asked(FleetcareError):
    """The row waits for an answer that only a person can give."""


def looks_like_millivolts(text: str) -> Decimal | None:
    """Volts, if the cell holds a bare number that can only be meant in millivolts; otherwise None."""
    try:
        found = read_number(text, "volt")
    except NotANumber:
        return None
    if found is None or found[1] or found[0] < HIGHEST_PACK_V or found[0] >= HIGHEST_PACK_V * 1000:
        return None
    return shifted(found[0], -3)


def read_row(
    cells: dict[str, str],
    milli: Callable[[str], bool],
    order: DateOrder | None,
    millivolts: bool | None,
    zone: dt.tzinfo,
    columns: Collection[str],
    heading: Callable[[str], str],
) -> OldReading:
    """The reading in a row.  Raises Refused with a reason, or Asked while an answer is missing."""
    pack = cells["pack"].strip().upper()
    if not pack:
        raise Refused("oldsheet.no_pack")
    if order is None and order_shown(cells["done_at"]) is None and two_readings(cells["done_at"]) is not None:
        raise Asked("oldsheet.date_open", typed=cells["done_at"].strip())
    try:
        at = read_moment(cells["done_at"], zone, order, cells.get("time", ""))
    except EntryRefused as error:
        raise Refused(error.message.key, **dict(error.message.values)) from None
    offset = at.utcoffset()
    assert offset is not None
    at = at.replace(tzinfo=dt.timezone(offset))
    words: list[str] = []

    def unit(name: str, quantity: str) -> str:
        return heading_unit(heading(name), quantity) if name in columns else ""

    rested = _volts(cells, "rested_v", milli, millivolts, words, unit("rested_v", "volt"))
    loaded = None
    if "loaded_v" in columns:
        loaded = _volts(cells, "loaded_v", milli, millivolts, words, unit("loaded_v", "volt"))
    amps = _number(cells, "load_a", "amp", words, unit("load_a", "amp"))
    hold = _number(cells, "hold_s", "second", words, unit("hold_s", "second"))
    if hold is not None and not (hold == int(hold) and 0 < hold < 10_000):
        words.append(_written(cells, "hold_s", unit("hold_s", "second")))
        hold = None
    bench_c = _number(cells, "bench_c", "celsius", words, unit("bench_c", "celsius"))
    if bench_c is not None and not -40 <= bench_c <= 60:
        words.append(_written(cells, "bench_c", unit("bench_c", "celsius")))
        bench_c = None
    rest = _rest(cells.get("rest", ""), heading("rest") if "rest" in columns else "")
    if rest is RestBand.UNKNOWN and cells.get("rest", "").strip().lower() not in ("", rest.value):
        words.append(_written(cells, "rest"))
    remark = "; ".join([*words, *([cells["remark"].strip()] if cells.get("remark", "").strip() else [])])
    return OldReading(
        pack=pack,
        done_at=at,
        kind=_kind(cells.get("kind", ""), words),
        rest=rest,
        rested_v=rested,
        loaded_v=loaded,
        load_a=amps,
        hold_s=None if hold is None else int(hold),
        bench_c=bench_c,
        meter=cells.get("meter", "").strip().upper(),
        vehicle=cells.get("vehicle", "").strip().upper(),
        remark=remark,
    )


def classify(bench: _ImportBench, reading: OldReading) -> VoltageCheck | OldReading:
    """A check to be judged, or a reading to be kept with what it lacks; Refused for what cannot be true.

    A reading of a pack that is not on record comes back as it is, to be parked.
    """
    if reading.done_at > bench.now:
        raise Refused("entry.future", done_at=reading.done_at, now_at=bench.now)
    if reading.done_at < EARLIEST:
        raise Refused("oldsheet.too_old", done_at=reading.done_at, earliest_at=EARLIEST)
    if reading.rested_v is None and reading.loaded_v is None and not reading.remark:
        raise Refused("oldsheet.nothing_read")
    pack = bench.packs.get(reading.pack)
    _impossible(reading)
    if pack is None:
        return reading
    lacks = list(_lacks(bench, reading))
    if reading.rested_v is not None:
        check = _check(reading)
        try:
            _questions(bench, check)
            if (
                check.vehicle is not None
                and check.vehicle in bench.vehicles
                and pack.standing is PackStanding.IN_SERVICE
            ):
                try:
                    refuse_misfit(bench.vehicles[check.vehicle], pack, bench.models[pack.model], None)
                except EntryRefused as misfit:
                    lacks.append(misfit.message)
        except _Asked as asked:
            raise Refused(asked.message.key, **dict(asked.message.values)) from None
        if not lacks:
            return check
    return replace(reading, why=msg("oldsheet.lacks", lacks=tuple(lacks)))


def _impossible(reading: OldReading) -> None:
    for name in ("rested_v", "loaded_v"):
        value: Decimal | None = getattr(reading, name)
        if value is not None and value < 0:
            raise Refused("entry.negative_v", typed_v=value)
        if value is not None and value >= HIGHEST_PACK_V:
            raise Refused("oldsheet.above_any", typed=str(value))
    if reading.load_a is not None and reading.load_a <= 0 and reading.loaded_v is not None:
        raise Refused("entry.load_not_positive", typed_a=reading.load_a)
    if reading.rested_v is not None and reading.loaded_v is not None and reading.loaded_v > reading.rested_v:
        raise Refused("entry.loaded_above_rested", loaded_v=reading.loaded_v, rested_v=reading.rested_v)


def _lacks(bench: _ImportBench, reading: OldReading) -> list[Message]:
    lacks = []
    if reading.rested_v is None:
        lacks.append(msg("oldsheet.lacks_volts"))
    if reading.rest is RestBand.UNKNOWN:
        lacks.append(msg("oldsheet.lacks_rest"))
    meter = bench.meters.get(reading.meter)
    if not reading.meter:
        lacks.append(msg("oldsheet.lacks_meter"))
    elif meter is None:
        lacks.append(msg("oldsheet.unknown_meter", code=reading.meter))
    elif meter.refused_from is not None and reading.done_at.date() >= meter.refused_from:
        lacks.append(msg("oldsheet.refused_meter", code=reading.meter))
    if reading.loaded_v is not None and reading.load_a is None:
        lacks.append(msg("oldsheet.lacks_amps"))
    if reading.vehicle and reading.vehicle not in bench.vehicles:
        lacks.append(msg("oldsheet.unknown_vehicle", code=reading.vehicle))
    if bench.packs[reading.pack].standing is not PackStanding.IN_SERVICE:
        lacks.append(msg("oldsheet.not_in_service", pack=reading.pack))
    return lacks


def _check(reading: OldReading) -> VoltageCheck:
    loaded = reading.loaded_v if reading.load_a is not None else None
    assert reading.rested_v is not None
    return VoltageCheck(
        reading.pack, reading.kind, reading.rest, reading.rested_v, reading.done_at, reading.meter,
        reading.vehicle or None, loaded, None if loaded is None else reading.load_a,
        None if loaded is None else reading.hold_s, reading.bench_c, None, reading.remark,
    )  # fmt: skip


def _questions(bench: _ImportBench, check: VoltageCheck) -> None:
    """Raises _Asked for a value that looks like a slip; a file cannot answer."""
    bench.question(check, bench.models[bench.packs[check.pack].model])


def _volts(
    cells: dict[str, str],
    name: str,
    milli: Callable[[str], bool],
    millivolts: bool | None,
    words: list[str],
    unit: str,
) -> Decimal | None:
    text = cells[name]
    if not milli(name) and (volts := looks_like_millivolts(text)) is not None:
        if millivolts is None:
            raise Asked("oldsheet.milli_open", typed=text.strip())
        return volts if millivolts else Decimal(text.strip().replace(",", "."))
    try:
        found = read_number(text, "volt", milli=milli(name), unit=unit)
    except NotANumber:
        words.append(_written(cells, name, unit))
        return None
    return None if found is None else found[0]


def _number(cells: dict[str, str], name: str, quantity: str, words: list[str], unit: str) -> Decimal | None:
    try:
        found = read_number(cells.get(name, ""), quantity, unit=unit)
    except NotANumber:
        words.append(_written(cells, name, unit))
        return None
    return None if found is None else found[0]


def _written(cells: dict[str, str], name: str, unit: str = "") -> str:
    """What a cell says that is no figure of its field; a bare number with the unit of its heading."""
    typed = cells[name].strip()
    if unit and typed[-1:].isdigit():
        typed = f"{typed} {unit}"
    return say(msg("oldsheet.written", field_name=msg(f"oldsheet.field_{name}"), typed=typed))


_KINDS = {kind.value.replace("_", " "): kind for kind in CheckKind} | {"": CheckKind.RESTED_FULL}
_RESTS = {band.value.replace("_", " "): band for band in RestBand}


def _kind(text: str, words: list[str]) -> CheckKind:
    plain = " ".join(text.strip().lower().replace("_", " ").split())
    kind = _KINDS.get(plain)
    if kind is None:
        raise Refused("import.kind", typed=text.strip()[:60], kinds=", ".join(kind.value for kind in CheckKind))
    return kind


def _rest(text: str, heading: str) -> RestBand:
    """The rest band, from its name or from minutes or hours whose unit is written; otherwise unknown."""
    plain = " ".join(text.strip().lower().replace("_", " ").split())
    if plain in _RESTS:
        return _RESTS[plain]
    hours = plain.endswith(("h", "hr", "hrs", "hour", "hours"))
    bare = (
        plain.rstrip("hours ").strip() if hours else plain.removesuffix("utes").removesuffix("min").removesuffix("mins")
    )
    by_heading = in_hours(heading)
    try:
        found = read_number(bare, "minute")
    except NotANumber:
        return RestBand.UNKNOWN
    if found is None or found[0] < 0 or (bare == plain and by_heading is None):
        return RestBand.UNKNOWN
    minutes = found[0] * 60 if hours or (bare == plain and by_heading) else found[0]
    return [band for band in RestBand if band.least_minutes is not None and band.least_minutes <= minutes][-1]
