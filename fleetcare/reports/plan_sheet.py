"""The replacement plan: how many packs of which model in which quarter, which they are, what it costs, how sure it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from fleetcare.domain.wording import Message, msg, say, show_chance, show_value, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import rules_heads
from fleetcare.reports.settling import settled
from fleetcare.services.in_force import DepotRules
from fleetcare.services.needing import ModelNeed
from fleetcare.services.renewal import Renewal
from fleetcare.services.writing_files import whole_file


def write(
    found: Renewal, pairs: Sequence[tuple[Message, ...]], path: Path, *, page: str, printed_by: str,
    printed_at: dt.datetime, rules: Sequence[DepotRules] = (),
) -> int:  # fmt: skip
    """Write the plan to `path`; returns the number of pages.

    `pairs` are the comparisons in sentences, `rules` what the depots follow, at its end.
    """
    running = Running(
        word("sheet.plan"), say(msg("needs.until_day", asked_date=found.today)), found.fleet_name, found.demo, found.as_of,
        found.head.short, printed_by, printed_at,
    )  # fmt: skip
    followed = [Text(head, 8, bold=True) for head, _ in rules_heads(rules)]

    def put(flow: Flow) -> None:
        flow.heading(word("sheet.plan"), 15)
        flow.text(Text(say(found.total), 11, bold=True))
        for told in found.in_doubt_told:
            flow.space(4)
            flow.text(Text(say(told), 9, bold=True))
        flow.space(4)
        flow.text(Text(word("review.range"), 9))
        flow.space(3)
        flow.text(Text(word("plan.intro"), 9))
        _models(flow, found)
        _named(flow, found)
        _compared(flow, found, pairs)
        _how_sure(flow, found)
        flow.space(20)
        flow.together(Text(word("plan.sign"), 9), Text("", 5), *followed, Text(word("safety.defer"), 8.5, bold=True))

    with whole_file(path) as fresh:
        return settled(fresh, running, page=page, put=put)


def _models(flow: Flow, found: Renewal) -> None:
    flow.heading(word("review.buy"), 12, 1)
    wanted = [one for one in found.needs if not one.none]
    if wanted:
        flow.table(
            (0.19, word("list.model")), (0.27, word("needs.when")), (0.07, word("renewal.low")),
            (0.08, word("renewal.likely")), (0.07, word("renewal.high")), (0.32, word("renewal.cost")),
        )  # fmt: skip
        for one in wanted:
            _model(flow, one)
        flow.end_table()
        flow.space(4)
    quiet = tuple(one.name for one in found.needs if one.none and one.unknown < one.packs)
    if quiet:
        flow.text(Text(say(msg("needs.quiet", models=quiet)), 9))
    for one in found.needs:
        for told in one.left_open_told:
            flow.text(Text(show_value("told_sentence", told), 9))
    for low in found.running_low:
        flow.text(Text(say(low.told), 9))


def _model(flow: Flow, one: ModelNeed) -> None:
    for quarter in one.quarters:
        name = one.name if quarter.number == 1 else ""
        told = word("needs.no_packs") if quarter.none else say(quarter.told(one.price, one.currency))
        if quarter.others is not None and quarter.named:
            told = f"{told}; {say(quarter.others)}"
        flow.row(
            [Text(name, 9, bold=True)],
            [Text(say(msg("needs.quarter", from_date=quarter.from_date, to_date=quarter.to_date)), 8)],
            [Text(str(quarter.low), 10)], [Text(str(quarter.likely), 10, bold=True)], [Text(str(quarter.high), 10)],
            [Text(told, 8)],
        )  # fmt: skip
    both = one.together
    if both is not None:
        flow.row(
            [Text("", 9)], [Text(say(msg("needs.together", to_date=both.to_date)), 8)],
            [Text(str(both.low), 10)], [Text(str(both.likely), 10, bold=True)], [Text(str(both.high), 10)],
            [Text(say(both.told(one.price, one.currency)), 8)],
        )  # fmt: skip


def _named(flow: Flow, found: Renewal) -> None:
    flow.heading(word("plan.named"), 12, 1)
    named = [pack for model in found.needs for quarter in model.quarters for pack in quarter.named]
    if not named:
        flow.text(Text(word("needs.empty_table"), 9))
        return
    flow.table(
        (0.11, word("plan.pack")), (0.20, word("list.model")), (0.27, word("needs.when")),
        (0.09, word("needs.chance_head")), (0.33, word("needs.leads")),
    )  # fmt: skip
    for pack in named:
        flow.row(
            [Text(pack.code, 9, bold=True)], [Text(pack.model, 8)],
            [Text(say(msg("needs.quarter", from_date=pack.from_date, to_date=pack.to_date)), 8)],
            [Text(show_chance(pack.chance), 9)], [Text(say(pack.why), 8)],
        )  # fmt: skip
    flow.end_table()


def _compared(flow: Flow, found: Renewal, pairs: Sequence[tuple[Message, ...]]) -> None:
    flow.heading(word("review.compare"), 12, 1)
    if found.compared_told is not None:
        flow.text(Text(say(found.compared_told), 9))
    if not found.lives:
        return
    flow.text(Text(word("review.compare_by_age"), 8, quiet=True))
    for *stood, verdict in pairs:
        flow.together(Text(say(verdict), 9, bold=True), *(Text(show_value("told_sentence", one), 8) for one in stood))
        flow.space(3)
    lives = found.half_lives_told
    flow.together(Text(word("review.half"), 9, bold=True), *(Text(say(one), 8) for one in lives))


def _how_sure(flow: Flow, found: Renewal) -> None:
    flow.heading(word("plan.how_sure"), 12, 1)
    flow.text(Text(say(found.kept_told), 9.5, bold=True))
    flow.space(3)
    if found.kept:
        flow.table(
            (0.21, word("list.model")), (0.20, word("renewal.quantity")), (0.12, word("renewal.days")),
            (0.12, word("renewal.count")), (0.07, word("renewal.said")), (0.08, word("renewal.was")),
            (0.20, word("sure.judged")),
        )  # fmt: skip
        for one in found.kept:
            cells = (one.model, word(f"quantity.{one.quantity}"), str(one.days), str(one.count), "80 %",
                      f"{one.inside_percent:.0f} %", say(one.judged))  # fmt: skip
            flow.row(*([Text(cell, 8)] for cell in cells))
        flow.end_table()
    if found.learnt:
        flow.heading(word("sure.learnt"), 11, 1)
        for row in found.learnt:
            values = {
                "model": row.model,
                "packs": row.packs,
                "rests": row.rests_on,
                "energy": f"{row.energy_kj_mol:.0f}",
            }
            told = msg("plan.learnt_few", **values)
            if row.knows_ohm:
                told = msg("plan.learnt", yearly=f"{row.yearly_percent:+.1f}", **values)
            flow.text(Text(say(told), 8.5))
        if found.meters_told is not None:
            flow.text(Text(say(found.meters_told), 8.5))
            for suspect in found.meter_suspects:
                flow.text(Text(say(suspect.told), 8.5, bold=True))
