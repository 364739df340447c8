"""What the bench says of the pack in hand, and the check as it was typed."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack, PackModel
from fleetcare.domain.units import parse_amps, parse_volts
from fleetcare.domain.wording import msg, say
from fleetcare.services.identify import label_issue
from fleetcare.services.summary import check_lines
from fleetcare.ui.bench.drafting import ReadUnder
from fleetcare.ui.bench.work_page import WorkPage


def pack_told(app: App, pack: Pack) -> tuple[PackModel, str]:
    """The model of `pack`, and in lines what it is, its last check, and which label stands."""
    with app.store.view() as view:
        of_model = view.thing("pack_model", pack.model)
        newest = check_lines(view, view.checks_of(pack.code, 5))
        label = label_issue(view, pack.code)
    assert of_model is not None
    model = msg(
        "bench.pack_line",
        model=of_model.name, **{"class": of_model.voltage_class_v}, series=of_model.series_count,
    )  # fmt: skip
    last = next((line for line in newest if not line.struck), None)
    told = (
        msg("bench.no_last")
        if last is None
        else msg(
            "bench.last", last_date=last.done_at.date(), rested_v=last.rested_v,
            verdict=msg(f"verdict.{last.verdict.level.value}"),
        )
    )  # fmt: skip
    lines = [say(model), say(told)]
    if label is not None:
        lines.append(say(msg("bench.label_stands", issue=label.issue)))
    return of_model, "\n".join(lines)


def check_typed(
    work: WorkPage,
    under: ReadUnder,
    pack: str,
    vehicle: str | None,
    at: dt.datetime,
    upheld: tuple[tuple[str, str], ...],
) -> VoltageCheck:
    """The check as typed; EntryRefused names the field."""
    rested = parse_volts(work.rested.text, field="rested_v")
    loaded: Decimal | None = None
    amps: Decimal | None = None
    if work.loaded.text.strip():
        loaded = parse_volts(work.loaded.text, field="loaded_v")
        amps = parse_amps(work.amps.text, field="load_a")
    if work.rest.band is None:
        raise EntryRefused("bench.need_rest", field="rest")
    kind = CheckKind(work.kind.currentData())
    load = under.load if loaded is not None else None
    return VoltageCheck(
        pack=pack, kind=kind, rest=work.rest.band, rested_v=rested, done_at=at,
        meter=under.meter.code, vehicle=vehicle, loaded_v=loaded,
        load_a=amps, hold_s=load.hold_s if load else None, bench_c=under.bench_c,
        test_load=load.code if load else None, remark=work.remark.text.strip(), questioned=upheld,
    )  # fmt: skip
