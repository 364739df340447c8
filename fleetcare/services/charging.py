"""Deeds and views of chargers: charges, output tests, and the packs charged since a charger was last good."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain import chargers, intake, limits
from fleetcare.domain.chargers import ChargedOn, OutputState, OutputTest
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.intake import Report
from fleetcare.domain.packs import Charger, Meter, Pack, PackModel
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.services import charge_bars, record
from fleetcare.services.doubting import refuse_contractor_meter
from fleetcare.services.hire_returns import cooling_hold
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, said
from fleetcare.services.watering import open_water
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredHold


def charge_warning(
    store: Store, clock: Clock, pack_code: str, charger_code: str, pack_c: Decimal | None = None
) -> Message | None:
    """Why this pack is not to be charged so, or None: barred whatever the charger (`charge_bars`), wet, warm from a
    return, too cold or hot, the wrong or no known charger.

    EntryRefused for an unknown code.
    """
    with store.view() as view:
        pack = known_pack(view, pack_code)
        model: PackModel = view.thing("pack_model", pack.model)
        barred = charge_bars.bar(view, pack_code, model, clock().date())
        if barred is not None:
            return barred.reason
        wet = open_water(view, pack_code)
        if wet is not None:
            kind = msg(f"water_kind.{wet.kind.value}")
            return msg("water.dry_first", pack=pack_code, on_at=wet.done_at, kind=kind)
        if cooling_hold(view, pack_code) is not None:
            return msg("charge.cooling", pack=pack_code)
        if chargers.outside_window(model, pack_c):
            window = {"from_c": model.charge_min_c, "to_c": model.charge_max_c}
            return msg("charge.outside_window", at_c=pack_c, model=model.name, **window)
        if not charger_code:
            return msg("report.unknown_charger")
        charger: Charger = known(view, "charger", charger_code)
        wrong = intake.misfit(charger, model)
        if wrong is not None:
            return wrong
        for hold in view.open_holds(("charger", charger_code)):
            return msg("charger.held", charger=charger_code, reason=hold.remark or hold.reason)
        return None


def record_charge(store: Store, clock: Clock, author: Author, charged: ChargedOn) -> Recorded:
    """Note on which charger a pack was put.  A wrong or unknown one is recorded and holds the pack; one that can
    over-charge it quarantines it, whatever it reads.  So does a charge while wet, outside the maker's window or on a
    withdrawn charger hold it.
    """
    now = clock()
    with store.transaction() as tx:
        pack = known_pack(tx, charged.pack)
        charger: Charger | None = known(tx, "charger", charged.charger) if charged.charger else None
        record.refuse_future(charged.done_at, now)
        model = tx.thing("pack_model", pack.model)
        writer = Writer(tx, author, now)
        barred = charge_bars.bar(tx, charged.pack, model, charged.done_at.date())
        charge_id = writer.add("charged_on", charged, charged.done_at)
        ruling = _ruling(tx, charged, charger, model)
        if barred is not None and (ruling is None or ruling.hold_class is not HoldClass.DANGER):
            if charge_bars.reads_nothing(tx, charged.pack, model):
                hold = Hold("pack", charged.pack, barred.hold_class, charged.done_at, barred.reason, cause=charge_id)
                hold_by_rule(tx, writer, barred, hold)
            why = barred.reason
            if ruling is not None:  # a bar ends; what the charge may have done to the pack does not end with it
                hold = Hold("pack", charged.pack, ruling.hold_class, charged.done_at, ruling.reason, cause=charge_id)
                if hold_by_rule(tx, writer, ruling, hold):
                    why = msg("record.charge_barred_too", barred_sentence=why, reason_sentence=ruling.reason)
            told = msg("record.charge_barred", pack=charged.pack, charger=charged.charger or "—", reason=why)
            return writer.recorded(told)
        if ruling is None:
            return writer.recorded(msg("record.charge", pack=charged.pack, charger=charged.charger))
        hold = Hold("pack", charged.pack, ruling.hold_class, charged.done_at, ruling.reason, cause=charge_id)
        hold_by_rule(tx, writer, ruling, hold)
        return writer.recorded(said(hold))


def _ruling(view: View, charged: ChargedOn, charger: Charger | None, model: PackModel) -> Ruling | None:
    """What a charge holds the pack for, the strictest reason; None where it was in order."""
    wrong = None if charger is None else intake.misfit(charger, model)
    if wrong is not None and charger is not None:
        danger = intake.overcharges(charger, model)
        return Ruling(HoldClass.DANGER if danger else HoldClass.UNKNOWN, msg("report.charged_on", why=wrong))
    if chargers.outside_window(model, charged.pack_c):
        window = {"from_c": model.charge_min_c, "to_c": model.charge_max_c}
        return Ruling(HoldClass.FAULT, msg("report.charged_outside", at_c=charged.pack_c, **window))
    wet = open_water(view, charged.pack)
    if wet is not None:
        return Ruling(HoldClass.FAULT, msg("report.charged_wet", kind=msg(f"water_kind.{wet.kind.value}")))
    if charger is None:
        return Ruling(
            HoldClass.UNKNOWN, msg("report.charged_unknown", where=charged.where or msg("charge.where_unknown"))
        )
    return withdrawn(view, charger.code, charged.done_at)


def withdrawn(view: View, charger_code: str, at: dt.datetime) -> Ruling | None:
    """What a charge at `at` on a held charger holds the pack for, or None.

    A charger that ended too high is in question since its last good output, whenever it was held.
    """
    for hold in view.open_holds(("charger", charger_code)):
        last_good = _last_good(view, charger_code)
        in_question = hold.reason.key == "output.high" and (last_good is None or at > last_good)
        if hold.since <= at or in_question:
            why = msg("charger.held", charger=charger_code, reason=hold.remark or hold.reason)
            return Ruling(HoldClass.ACTION_DUE, msg("report.charged_withdrawn", why=why))
    return None


@dataclass(frozen=True, slots=True)
class SuspectPack:
    """A pack charged on a charger since it was last good; `beyond` is True above the query limit."""

    pack: str
    charged_at: dt.datetime
    rested_v: Decimal | None
    query_v: Decimal
    beyond: bool


def _last_good(view: View, charger_code: str) -> dt.datetime | None:
    tests = view.records_of("output_test", ("charger", charger_code))
    good = [e.done_at for e in tests if isinstance(e.body, OutputTest) and e.body.state is OutputState.GOOD]
    return max(good, default=None)


def _last_state(view: View, charger_code: str) -> OutputState | None:
    tests = [e.body for e in view.records_of("output_test", ("charger", charger_code))]
    judged = [t.state for t in tests if isinstance(t, OutputTest) and t.state is not OutputState.NOT_JUDGED]
    return judged[-1] if judged else None


def look_back(view: View, charger_code: str) -> tuple[SuspectPack, ...]:
    """Packs charged on a charger after its last good output test, worst first.

    Above the query limit first, then by volts: the highest first, or the lowest where its last output was too low.
    """
    since = _last_good(view, charger_code)
    low = _last_state(view, charger_code) is OutputState.LOW
    latest: dict[str, dt.datetime] = {}
    for kind in ("charged_on", "report"):
        for event in view.records_of(kind, ("charger", charger_code)):
            assert isinstance(event.body, (ChargedOn, Report))
            if since is None or event.done_at > since:
                code = event.body.pack
                latest[code] = max(event.done_at, latest.get(code, event.done_at))
    site = record.site_rules(view)
    found = []
    checks = view.latest_checks(latest)
    for code, at in latest.items():
        pack: Pack = view.thing("pack", code)
        query = limits.resolve(view.thing("pack_model", pack.model), site).volts("over_full_query").value
        rested = checks[code].rested_v if code in checks else None
        found.append(SuspectPack(code, at, rested, query, rested is not None and rested > query))
    sign = 1 if low else -1
    found.sort(key=lambda one: (not one.beyond, one.rested_v is None, sign * (one.rested_v or Decimal(0)), one.pack))
    return tuple(found)


def record_output(
    store: Store, clock: Clock, author: Author, charger_code: str, meter_code: str, measured_v: Decimal
) -> tuple[Recorded, tuple[SuspectPack, ...]]:
    """Keep an output test; a charger out of tolerance is withdrawn and its packs since the last good test are listed.

    Where the output was high, each of them is held for inspection: resting hides over-charge.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        charger: Charger = known(tx, "charger", charger_code)
        meter: Meter = known(tx, "meter", meter_code)
        if meter.refused_from is not None and now.date() >= meter.refused_from:
            raise EntryRefused("entry.meter_refused", field="meter", code=meter_code, since_date=meter.refused_from)
        refuse_contractor_meter(tx, meter, now)
        low, high = chargers.tolerance_band(charger)
        state = chargers.judge_output(charger, measured_v)
        writer = Writer(tx, author, now)
        test = OutputTest(charger_code, now, meter_code, measured_v, low, high, state)
        values = {"charger": charger_code, "measured_v": measured_v, "low_v": low, "high_v": high}
        told = msg(f"output.{state.value}", **values)
        test_id = writer.add("output_test", test, now)
        if state in (OutputState.GOOD, OutputState.NOT_JUDGED):
            return writer.recorded(told), ()
        ruling = Ruling(HoldClass.FAULT, told)
        hold_by_rule(tx, writer, ruling, Hold("charger", charger_code, ruling.hold_class, now, told, cause=test_id))
        suspects = look_back(tx, charger_code)
        if state is OutputState.HIGH:
            inspect = Ruling(HoldClass.ACTION_DUE, msg("output.inspect", **values))
            for one in suspects:
                hold = Hold("pack", one.pack, inspect.hold_class, now, inspect.reason, cause=test_id)
                hold_by_rule(tx, writer, inspect, hold)
        return writer.recorded(told), suspects


@dataclass(frozen=True, slots=True)
class ChargerLine:
    """One charger in the list: its tolerance band, last test, holds, and the packs charged since it was last good.

    `models` are the names of the pack models that it may charge.
    """

    charger: Charger
    models: tuple[str, ...]
    low_v: Decimal
    high_v: Decimal
    last_test: OutputTest | None
    held: tuple[Message, ...]
    since_good: tuple[SuspectPack, ...]

    @property
    def rated_told(self) -> Message:
        """Rated volts, and amps where the plate was read."""
        one = self.charger
        if one.rated_a is None:
            return msg("faults.rated_volts", rated_v=one.rated_v)
        return msg("faults.rated_both", rated_v=one.rated_v, rated_a=one.rated_a)

    @property
    def band_told(self) -> Message:
        """The outputs that are good."""
        return msg("faults.band_is", low_v=self.low_v, high_v=self.high_v)

    @property
    def state_told(self) -> Message:
        """Withdrawn and why, or in use; then whether nothing at its output is normal."""
        waits = self.charger.output_waits_for_pack
        if self.held:
            return (
                msg("faults.withdrawn_waits", why_sentence=self.held)
                if waits
                else msg("faults.withdrawn", why=self.held)
            )
        return msg("faults.in_use_waits" if waits else "faults.in_use")

    @property
    def test_told(self) -> Message:
        """What its last output test read and said."""
        test = self.last_test
        if test is None:
            return msg("faults.never_tested")
        return msg(
            "faults.test_read",
            measured_v=test.measured_v,
            state=msg(f"output_state.{test.state.value}"),
            at=test.done_at,
        )


def _why_held(hold: StoredHold) -> Message:
    """The reason of a charger's hold in the fewest words, for a list that names the charger beside it."""
    if hold.reason.key in ("output.high", "output.low"):
        values = {name: value for name, value in hold.reason.values if name != "charger"}
        return msg(f"faults.short_{hold.reason.key.removeprefix('output.')}", **values)
    return msg("hold.in_words", remark=hold.remark, reason=hold.reason) if hold.remark else hold.reason


def charger_lines(store: Store) -> tuple[ChargerLine, ...]:
    """Every charger, held ones first."""
    with store.view() as view:
        lines = []
        models: list[PackModel] = sorted(view.things("pack_model").values(), key=lambda one: one.name)
        for code, charger in view.things("charger").items():
            tests = [e.body for e in view.records_of("output_test", ("charger", code))]
            low, high = chargers.tolerance_band(charger)
            held = tuple(_why_held(hold) for hold in view.open_holds(("charger", code)))
            last = tests[-1] if tests else None
            assert last is None or isinstance(last, OutputTest)
            fits = tuple(one.name for one in models if intake.misfit(charger, one) is None)
            lines.append(ChargerLine(charger, fits, low, high, last, held, look_back(view, code)))
        return tuple(sorted(lines, key=lambda line: (not line.held, line.charger.code)))
