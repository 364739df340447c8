"""Commands of the quarter review: ahead, remeasure, purchase, one pack's projection, claim file and plan."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from fleetcare.app import App
from fleetcare.cli.opening import author, opened
from fleetcare.cli.tables import table, tables
from fleetcare.domain.money import show_money
from fleetcare.domain.wording import msg, say, show_chance, show_moment, word
from fleetcare.services import summary
from fleetcare.services.as_of import as_of

Rows = list[tuple[str, ...]]


def ahead(asked: argparse.Namespace) -> int:
    """Print the quarter review: sentences first in the text form, then its tables."""
    from fleetcare.services.renewal import pair_told, renewal

    app = opened(asked.fleet)
    found = renewal(app.store, app.clock, at=as_of(app.store, app.clock, asked.as_of))
    first = [msg("review.as_of_told", asked_date=found.today)] if found.past else []
    first += [found.total, *found.in_doubt_told, msg("review.range"), found.claims_told, found.kept_told]
    first += [one.together_told for one in found.needs if one.together_told is not None]
    first += [told for one in found.needs for told in one.left_open_told]
    first += [one.told for one in found.running_low]
    pairs = [tuple(say(one) for one in pair_told(pair)) for pair in found.pairs]
    last = [*([] if found.compared_told is None else [found.compared_told]), *found.half_lives_told]
    last.append(msg("review.compare_by_age"))
    if asked.format != "text":
        meters = [] if found.meters_told is None else [found.meters_told]
        told = [(say(one),) for one in (*first, *meters, *last)]
        compared = (word("review.compare"), ("first", "second", "told"), pairs)
        print(
            tables([(word("cli.in_words"), ("told",), told), *_tables(found, plain=True), compared], asked.format),
            end="",
        )
        return 0
    print("\n".join(say(one) for one in first), end="\n\n")
    print(tables(_tables(found, plain=False), "text"), end="")
    if found.meters_told is not None:
        print(f"{say(found.meters_told)}\n")
    print(word("review.compare"))
    for stood_first, stood_second, verdict in pairs:
        print(f"{verdict}\n  {stood_first}\n  {stood_second}")
    print("\n".join(say(one) for one in last))
    return 0


def _others(quarter: Any) -> list[str]:
    return [say(quarter.others)] if quarter.others is not None and quarter.named else []


def _price(need: Any, *, plain: bool) -> str:
    """As it is printed, or for other programs (`plain`) figure and code of ISO 4217."""
    if need.price is None:
        return ""
    return f"{need.price} {need.currency}".strip() if plain else show_money(need.price, need.currency)


def _clause(terms: Any, *, plain: bool) -> str:
    """Behind the warning where it speaks of hire, or for other programs (`plain`) as it was written."""
    return str(terms.clause) if plain or not terms.clause else say(terms.clause_told)


def _named(pack: Any) -> str:
    shown = f"{pack.code} {show_chance(pack.chance)}"
    return f"{shown} ({word(pack.first)})" if pack.in_doubt else shown


def _tables(found: Any, *, plain: bool) -> list[tuple[str, tuple[str, ...], Rows]]:
    needs: Rows = [
        (n.name, q.from_date.isoformat(), q.to_date.isoformat(), str(q.low), str(q.likely), str(q.high),
         _price(n, plain=plain), str(n.unknown),
         "; ".join([", ".join(_named(p) for p in q.named), *_others(q)]))
        for n in found.needs for q in n.quarters
    ]  # fmt: skip
    claims: Rows = [
        (
            c.pack,
            say(c.time_left),
            _clause(c.terms, plain=plain),
            say(c.finding or msg("warranty.nothing_found")),
            say(c.state),
        )
        for c in found.claims
    ]
    few = word("sure.too_few")
    learnt: Rows = [
        (n.model, str(n.packs), say(n.rests_on), f"{n.energy_kj_mol:.1f}", f"+{n.colder_percent:.0f} %",
         _yearly(f"{n.yearly_percent:+.1f} %", n.knows_ohm), _yearly(f"{n.yearly_v:+.3f} V", n.knows_volts),
         f"{n.scatter_percent:.1f} %, {n.scatter_v:.3f} V", f"± {n.pace_percent:.0f} %" if n.knows_ohm else few)
        for n in found.learnt
    ]  # fmt: skip
    kept: Rows = [
        (n.model, word(f"quantity.{n.quantity}"), str(n.days), str(n.count), "80 %", f"{n.inside_percent:.0f} %",
         say(n.judged))
        for n in found.kept
    ]  # fmt: skip
    return [
        (word("cli.review_needs"),
         ("model", "from", "to", "low", "likely", "high", "price", "not counted", "packs"), needs),
        (word("cli.warranty"), ("pack", "runs", "clause", "found", "evidence"), claims),
        (word("cli.remeasure"), _SUSPECT_HEADS, _suspects(found)),
        (word("renewal.kept"), ("model", "quantity", "days", "projections", "said", "was", "judged"), kept),
        (word("renewal.learnt"),
         ("model", "packs", "rests on", "kJ/mol", "10 °C colder", "ohms a year", "volts a year", "reading scatters", "packs differ by"),
         learnt),
    ]  # fmt: skip


def _yearly(change: str, known: bool) -> str:
    """A change in a year, in words where too few packs tell it or where it rounds to nothing."""
    if not known:
        return word("sure.too_few")
    return change if any(figure in change for figure in "123456789") else word("sure.keeps_still")


_SUSPECT_HEADS = ("pack", "done", "reading", "meter", "why", "what to do")


def _suspects(found: Any) -> Rows:
    meters = [("", "", "", one.meter, say(one.why), say(one.what_to_do)) for one in found.meter_suspects]
    return meters + [
        (s.pack, show_moment(s.reading.done_at), f"{word(f'quantity.{s.quantity}')} {say(s.value)}", s.reading.meter,
         say(s.why), say(s.what_to_do))
        for s in found.suspects
    ]  # fmt: skip


def remeasure(asked: argparse.Namespace) -> int:
    """Print the readings to measure again."""
    from fleetcare.services.renewal import renewal
    from fleetcare.services.suspects import LISTED_DAYS

    app = opened(asked.fleet)
    found = renewal(app.store, app.clock, at=as_of(app.store, app.clock, asked.as_of))
    if asked.format == "text" and not found.suspects:
        for one in (*(meter.told for meter in found.meter_suspects), msg("suspect.none", window_days=LISTED_DAYS)):
            print(say(one))
        return 0
    print(table(_SUSPECT_HEADS, _suspects(found), asked.format), end="")
    return 0


def one_pack(app: App, code: str, day: str | None, form: str) -> int:
    """Print what is projected for one pack, and why: readings used and left out, level, slope, what would change it."""
    from fleetcare.services.reasons import reading_lines, reasons

    at = as_of(app.store, app.clock, day)
    page = summary.pack_summary(app.store, at.clock, code, at.position)
    heads = ("quantity", "done", "value", "meter", "used", "why", "what to do")
    rows: Rows = []
    for projection in page.projections:
        name = word(f"quantity.{projection.quantity}")
        digits, unit = (4, "Ω") if projection.quantity == "resistance_ohm" else (2, "V")
        rows += [
            (name, show_moment(line.reading.done_at), f"{line.reading.value:.{digits}f} {unit}", line.reading.meter,
             "yes" if line.used else "no", say(line.why) if line.why else "",
             say(line.what_to_do) if line.what_to_do else "")
            for line in reading_lines(projection)
        ]  # fmt: skip
    if form == "text":
        print(f"{code}. {say(msg('why.as_of', at=page.as_of))}\n")
        for projection in page.projections:
            print(f"{word(f'quantity.{projection.quantity}')}: {say(projection.sentence)}")
            for reason in reasons(projection, page.limit_source(projection.quantity)):
                print(f"  {say(reason)}")
            print()
    print(table(heads, rows, form), end="")
    return 0


def purchase(asked: argparse.Namespace) -> int:
    """Record a pack's purchase and warranty."""
    from fleetcare.services import warranty

    app = opened(asked.fleet)
    done = warranty.record_purchase(
        app.store, app.clock, author(app, asked.person), asked.pack.upper(), bought_on=asked.bought, months=asked.months,
        clause=asked.clause, invoice=asked.invoice, price=asked.price,
    )  # fmt: skip
    print(say(done.message))
    return 0


def say_clause(app: App, code: str) -> None:
    """Say a pack's warranty clause before its claim file is made."""
    from fleetcare.services import claim_file

    claim = claim_file.clause_of(app.store, app.clock, code)
    clause = msg("cli.claim_clause", clause=claim.terms.clause) if claim.terms.clause else msg("warranty.no_clause")
    print(say(clause), file=sys.stderr)
    if claim.terms.speaks_of_hire:
        print(word("warranty.hire"), file=sys.stderr)
