"""How meters and the re-check list are shown in rows."""

from __future__ import annotations

from fleetcare.domain.wording import msg, say, show_date, show_moment, show_value, word
from fleetcare.services.meters import MeterRow, RecheckLine
from fleetcare.ui import colours
from fleetcare.ui.colours import Mark
from fleetcare.ui.widgets.tables import Column


def _accuracy(row: MeterRow) -> str:
    meter = row.meter
    return say(
        msg(
            "meters.accuracy_line",
            percent=str(meter.accuracy_percent),
            digits=meter.accuracy_digits,
            digit_v=meter.digit_v,
        )
    )


def _due(row: MeterRow) -> str:
    if row.meter.refused_from is not None:
        return say(msg("meters.since_refused", since_date=row.meter.refused_from))
    return "" if row.meter.calibration_due is None else show_date(row.meter.calibration_due)


def _last_good(row: MeterRow) -> str:
    return word("meters.never") if row.last_good is None else show_date(row.last_good.date())


METERS = (
    Column(word("meters.code"), lambda r: r.meter.code, width=7),
    Column(word("meters.name"), lambda r: r.meter.name, width=24),
    Column(word("meters.state"), lambda r: say(r.state), mark=lambda r: colours.of_verdict(r.level), width=22),
    Column(word("meters.due"), _due, sort=lambda r: r.meter.calibration_due, width=17),
    Column(word("meters.accuracy"), _accuracy, width=24),
    Column(word("meters.last_good"), _last_good, width=18),
    Column(word("meters.used"), lambda r: f"{r.readings:,}", sort=lambda r: r.readings, right=True, width=13),
)


def _could_be(line: RecheckLine) -> str:
    if line.rejudged is None:
        return word("recheck.unknown")
    return word(f"verdict.{line.rejudged.verdict.level.value}")


def _mark(line: RecheckLine) -> Mark | None:
    return colours.UNKNOWN if line.rejudged is None else colours.of_verdict(line.rejudged.verdict.level)


def _held(line: RecheckLine) -> str:
    if line.held:
        return word("recheck.is_held")
    return word("recheck.to_hold" if line.would_hold else "recheck.not_held")


def _good_v(line: RecheckLine) -> str:
    if line.rejudged is None:
        return word("recheck.unknown")
    return show_value("good_v", float(line.rejudged.check.rested_v))


RECHECK = (
    Column(word("recheck.pack"), lambda r: r.pack, width=8),
    Column(word("recheck.where"), lambda r: r.vehicle or r.shelf or word("screen.where_unknown"), width=10),
    Column(word("recheck.now"), _could_be, mark=_mark, width=19),
    Column(word("recheck.good"), _good_v, right=True, width=19),
    Column(word("recheck.read"), lambda r: show_value("rested_v", r.stored.check.rested_v), right=True, width=10),
    Column(word("recheck.told"), lambda r: word(f"verdict.{r.stored.verdict.level.value}"), width=14),
    Column(word("recheck.meter"), lambda r: r.found.meter, width=7),
    Column(word("recheck.done"), lambda r: show_moment(r.stored.check.done_at),
           sort=lambda r: r.stored.check.done_at.timestamp(), width=19),
    Column(word("recheck.held"), _held, width=12),
)  # fmt: skip
