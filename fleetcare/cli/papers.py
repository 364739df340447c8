"""Commands of paper and proof: verify, lodge, history, labels."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetcare.cli.opening import author, opened, refuse_clock_behind
from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.label_stock import STOCKS
from fleetcare.domain.moments import date_if_typed, parse_date
from fleetcare.domain.procedures import RuleSet, Work
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import (
    history,
    history_checker,
    label_sheets,
    passports,
    policy,
    proving,
    site_texts,
    withholding,
)
from fleetcare.services.history_lines import Asked

LISTS = ("round", "handover", "layup", "quarantine", "tag")
"""Working sheets, as `fleetcare.reports.work_sheets.KINDS`, named here so that no help loads reportlab."""
MORE_LISTS = ("van", "recall", "renewal", "reentry")
"""Sheets of `fleetcare.reports.every_sheet` that are asked for likewise; van and recall take a number."""


def add_commands(commands: Any, fleet: Callable[[argparse.ArgumentParser], None]) -> None:
    """Add the commands of this module; `fleet` adds the option that names the fleet file."""
    verify_ = commands.add_parser(
        "verify", help="check every record against its hash, or a printed fingerprint, or an exported history"
    )
    fleet(verify_)
    verify_.add_argument("--fingerprint", metavar="TEXT", help="a printed fingerprint to compare with the record")
    verify_.add_argument(
        "--history", type=Path, metavar="ARCHIVE", help="an exported history; with --fleet also against that file"
    )
    verify_.set_defaults(run=verify)

    lodge_ = commands.add_parser("lodge", help="lodge the fingerprint outside, or list the lodgings and their gaps")
    fleet(lodge_)
    lodge_.add_argument("--with", dest="recipient", help="who keeps it; records the lodging (with --as)")
    lodge_.add_argument("--by", choices=proving.MEANS, default="mail", help="how it was given (default mail)")
    lodge_.add_argument("--as", dest="person", default="", help="code of the manager who lodges")
    lodge_.add_argument("--time-stamp", type=Path, metavar="FILE", help="write FILE and FILE.tsq, an RFC 3161 request")
    lodge_.set_defaults(run=lodge)

    history_ = commands.add_parser("history", help="write the maintenance history of a vehicle, a pack or the fleet")
    fleet(history_)
    history_.add_argument("code", nargs="?", help="vehicle or pack code (the whole fleet when left out)")
    history_.add_argument("--from", dest="from_day", help="first day (YYYY-MM-DD; a year ago when left out)")
    history_.add_argument("--to", dest="to_day", help="last day (YYYY-MM-DD; today when left out)")
    history_.add_argument("--output", type=Path, metavar="PDF", help="PDF to write")
    history_.add_argument("--archive", type=Path, metavar="ZIP", help="archive to write: PDF, records, proofs, checker")
    history_.add_argument(
        "--initials", action="append", default=[], metavar="PERSON", help="print a leaver as initials"
    )
    history_.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
    history_.add_argument("--as", dest="person", default="", help="code of the person who prints")
    history_.set_defaults(run=write_history)

    conditions_ = commands.add_parser("conditions", help="list the policy's conditions, or record one")
    fleet(conditions_)
    conditions_.add_argument("--add", metavar="TEXT", help="a condition, in the policy's words")
    conditions_.add_argument("--policy", default="", help="the policy it stands in")
    conditions_.add_argument("--from", dest="from_day", help="in force from (YYYY-MM-DD)")
    conditions_.add_argument("--to", dest="to_day", help="in force to (still, when left out)")
    conditions_.add_argument(
        "--shown-by", choices=policy.SHOWN_BY, default="nothing", help="what the record shows it by"
    )
    conditions_.add_argument("--as", dest="person", default="", help="code of the manager who records")
    conditions_.set_defaults(run=conditions)

    name_ = commands.add_parser("name", help="print a leaver as initials on every paper, or list who is")
    fleet(name_)
    name_.add_argument("who", nargs="?", help="code of the person (without: who is printed as initials, and why)")
    name_.add_argument("--initials", metavar="REASON", help="from now on initials; the reason stays on record")
    name_.add_argument("--full", metavar="REASON", help="the name in full again")
    name_.add_argument("--as", dest="person", default="", help="code of the manager who decides")
    name_.set_defaults(run=name)

    rules_ = commands.add_parser("rules", help="print a depot's rules and written procedures, or record its own")
    fleet(rules_)
    rules_.add_argument("depot", nargs="?", default="", help="depot code (may be left out where there is one depot)")
    rules_.add_argument(
        "--follow", choices=[one.value for one in RuleSet if one.value], help="the set of rules to follow"
    )
    rules_.add_argument("--text", help="the depot's own text beside the rules (empty takes it back)")
    rules_.add_argument("--work", choices=[one.value for one in Work], help="a kind of work: its procedure")
    rules_.add_argument("--add", metavar="TEXT", help="with --work: what the depot adds to its procedure")
    rules_.add_argument("--as", dest="person", default="", help="code of the manager who records")
    rules_.set_defaults(run=rules)

    passport_ = commands.add_parser("passport", help="print or keep the text of a pack's EU battery passport")
    fleet(passport_)
    passport_.add_argument("pack", help="pack code")
    passport_.add_argument("--text", help="text of the QR code on the pack, in quotes (empty takes it away)")
    passport_.add_argument("--as", dest="person", default="", help="code of the person")
    passport_.set_defaults(run=passport)

    labels_ = commands.add_parser("labels", help="write labels with QR codes, on sheets by measures or single")
    fleet(labels_)
    labels_.add_argument("codes", nargs="*", help="codes (all of the kind when left out)")
    labels_.add_argument("--kind", choices=label_sheets.KINDS, default="pack", help="what is labelled (default pack)")
    labels_.add_argument("--stock", default=STOCKS[0].name, metavar="NAME or MEASURES",
                         help=f"{', '.join(one.name for one in STOCKS)}; or measures such as 50x30, or "
                         "70x37, 3x8, 0, 0.5, 70, 37, A4")  # fmt: skip
    labels_.add_argument("--copies", type=int, default=label_sheets.COPIES, help="labels of each (default 2)")
    labels_.add_argument("--first", type=int, default=1, help="first free place on the sheet (default 1)")
    labels_.add_argument("--output", type=Path, required=True, help="PDF to write")
    labels_.add_argument("--as", dest="person", required=True, help="code of the person who prints")
    labels_.set_defaults(run=write_labels)


def verify(asked: argparse.Namespace) -> int:
    """Verify a fleet file or a printed fingerprint; exit code 1 when anything differs."""
    if asked.history is not None:
        return _verify_history(asked.history, asked.fingerprint, asked.fleet)
    app = opened(asked.fleet)
    if asked.fingerprint is not None:
        answer = proving.compare_printed(app.store, asked.fingerprint)
        print(say(answer.statement))
        return 0 if answer.matches else 1
    report = app.store.verify()
    faults = report.faults or proving.lodging_faults(app.store)
    if faults:
        for fault in faults:
            print(say(fault))
        return 1
    print(say(msg("verify.good", count=report.records, fingerprint=Head(report.records, report.root_hex).short)))
    print(report.root_hex)
    print(word("proof.consistent_only"))
    return 0


def lodge(asked: argparse.Namespace) -> int:
    """Print the mail text and the lodgings so far; with --with, record a lodging."""
    app = opened(asked.fleet)
    known = proving.lodgings(app.store, app.clock)
    if asked.time_stamp is not None:
        for path in proving.write_time_stamp(app.store, known, asked.time_stamp):
            print(say(msg("cli.written", path=str(path))))
    if asked.recipient is not None:
        done = proving.lodge(app.store, app.clock, author(app, asked.person), known.head, asked.by, asked.recipient)
        print(say(done.message))
        return 0
    for gap in known.gaps:
        print(say(gap))
    print(say(known.statement))
    print()
    print("\n\n".join(proving.mail_text(app.store, known.head, known.as_of)), end="")
    return 0


def _verify_history(path: Path, typed: str | None, fleet: Path | None) -> int:
    """The archive by itself; with a fleet file also against the record as it was then."""
    try:
        files = history_checker.load(path)
    except Exception as error:  # a damaged archive can break its reader in any way
        raise FileRefused("archive.unreadable", path=str(path), why=str(error)) from error
    good, said = history_checker.check(files, typed)
    print("\n".join(said))
    if good and fleet is not None:
        root, size = history_checker.head_of(files)
        answer = proving.compare_printed(opened(fleet).store, f"{root} {size}")
        print(say(answer.statement))
        return 0 if answer.matches else 1
    return 0 if good else 1


def write_history(asked: argparse.Namespace) -> int:
    """Write the history as PDF, as an archive, or both."""
    from fleetcare.reports import archive, history_sheet

    if asked.output is None and asked.archive is None:
        raise EntryRefused("cli.history_needs")
    app = opened(asked.fleet)
    refuse_clock_behind(app)
    today = app.clock().date()
    to_date = parse_date(asked.to_day, field="to_day") if asked.to_day else today
    from_date = parse_date(asked.from_day, field="from_day") if asked.from_day else to_date - dt.timedelta(days=365)
    subject = history.subject_of(app.store, asked.code) if asked.code else ("fleet", "")
    withheld = frozenset(author(app, code).person.code for code in asked.initials)
    words: dict[str, Any] = {
        "page": asked.page or app.settings.page,
        "printed_by": author(app, asked.person).person.name if asked.person else "",
        "printed_at": app.clock(),
    }
    with history.reading(app.store, app.clock, Asked(*subject, from_date, to_date, withheld)) as reading:
        whole = reading.whole()
        for path, write in ((asked.output, history_sheet.write), (asked.archive, archive.write)):
            if path is not None:
                pages = write(reading, whole, path, **words)
                print(say(msg("cli.history_written", path=str(path), pages=pages, lines=whole.lines)))
    return 0


def name(asked: argparse.Namespace) -> int:
    """List whose name is printed as initials; with --initials or --full, record a choice."""
    app = opened(asked.fleet)
    reason = asked.full if asked.initials is None else asked.initials
    if asked.who is not None and reason is not None:
        who = author(app, asked.person)
        done = withholding.withhold_name(
            app.store, app.clock, who, asked.who.strip().upper(), reason, withheld=asked.initials is not None
        )
        print(say(done.message))
        return 0
    with app.store.view() as view:
        for code, one in sorted(view.withheld().items()):
            print(say(msg("event.name_withheld", code=code, reason=one.reason)))
    print(word("history.initials_note"))
    return 0


def write_labels(asked: argparse.Namespace) -> int:
    """Write labels and record their issue."""
    from fleetcare.reports import label_sheet

    app = opened(asked.fleet)
    who = author(app, asked.person)
    label_sheets.may_label(who, app.clock())
    stock = next((one for one in STOCKS if one.name == asked.stock), None) or label_sheets.parse_measures(asked.stock)
    copies = label_sheets.parse_copies(str(asked.copies))
    first = label_sheets.parse_first(str(asked.first), stock)
    labels = label_sheets.labels_for(app.store, asked.kind, asked.codes)
    pages = label_sheet.write(
        labels, stock, asked.output, copies=copies, first=first, fleet_name=app.store.fleet_name, demo=app.store.demo
    )
    label_sheets.record_labels(app.store, app.clock, who, labels, copies)
    print(say(msg("labels.written", path=str(asked.output), pages=pages, count=len(labels) * copies)))
    print(word("labels.measure_first"))
    return 0


def rules(asked: argparse.Namespace) -> int:
    """Print what is in force at a depot; with --follow, --text or --add, record it."""
    app = opened(asked.fleet)
    known = site_texts.depots(app.store)
    code = asked.depot or (known[0].code if len(known) == 1 else "")
    work = Work(asked.work or "check")
    page = site_texts.depot_page(app.store, code, work)
    if asked.follow is not None or asked.text is not None:
        follow = RuleSet(asked.follow) if asked.follow else page.rules
        text = page.depot.rules_text if asked.text is None else asked.text
        done = site_texts.record_rules(app.store, app.clock, author(app, asked.person), code, follow, text)
        print(say(done.message))
        return 0
    if asked.add is not None:
        done = site_texts.record_site_text(app.store, app.clock, author(app, asked.person), code, work, asked.add)
        print(say(done.message))
        return 0
    followed = word(f"procedure.rules_{page.rules.value or 'none'}")
    print(f"{page.depot.name}: {followed}")
    for one in page.statements:
        print(f"- {one.statement} ({one.source})")
    if page.depot.rules_text:
        print(page.depot.rules_text)
    for each in (work,) if asked.work else Work:
        _print_procedure(site_texts.depot_page(app.store, code, each))
    return 0


def _print_procedure(page: site_texts.DepotPage) -> None:
    one = page.procedure
    what = word(f"procedure.work_{one.work.value}")
    print()
    print(say(msg("procedure.heading", work=what, version=one.version, written_date=one.written)))
    for number, step in enumerate(one.steps, start=1):
        print(f"{number}. {step}")
    if page.own is not None and page.own.text:
        print(say(msg("procedure.own_heading", depot=page.depot.name, version=page.own.version)))
        print(page.own.text)


def passport(asked: argparse.Namespace) -> int:
    """Print the passport text of a pack; with --text, keep it."""
    app = opened(asked.fleet)
    if asked.text is not None:
        done = passports.record_passport(app.store, app.clock, author(app, asked.person), asked.pack, asked.text)
        print(say(done.message))
        return 0
    with app.store.view() as view:
        print(passports.passport_of(view, asked.pack) or "—")
    return 0


def conditions(asked: argparse.Namespace) -> int:
    """List the policy's conditions; with --add, record one."""
    app = opened(asked.fleet)
    if asked.add is not None:
        done = policy.record_condition(
            app.store, app.clock, author(app, asked.person), text=asked.add, policy=asked.policy,
            from_date=parse_date(asked.from_day, field="from_day") if asked.from_day else app.clock().date(),
            to_date=date_if_typed(asked.to_day or "", field="to_day"), shown_by=asked.shown_by,
        )  # fmt: skip
        print(say(done.message))
        return 0
    for one in policy.conditions(app.store):
        print(f"{one.body.code}  {say(one.statement)}")
    return 0
