"""Commands of paper and proof: verify, lodge."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetcare.cli.opening import author, opened
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import proving


def add_commands(commands: Any, fleet: Callable[[argparse.ArgumentParser], None]) -> None:
    """Add the commands of this module; `fleet` adds the option that names the fleet file."""
    verify_ = commands.add_parser(
        "verify", help="check every record against its hash, or a printed fingerprint, or an exported history"
    )
    fleet(verify_)
    verify_.add_argument("--fingerprint", metavar="TEXT", help="a printed fingerprint to compare with the record")
    verify_.set_defaults(run=verify)

    lodge_ = commands.add_parser("lodge", help="lodge the fingerprint outside, or list the lodgings and their gaps")
    fleet(lodge_)
    lodge_.add_argument("--with", dest="recipient", help="who keeps it; records the lodging (with --as)")
    lodge_.add_argument("--by", choices=proving.MEANS, default="mail", help="how it was given (default mail)")
    lodge_.add_argument("--as", dest="person", default="", help="code of the manager who lodges")
    lodge_.add_argument("--time-stamp", type=Path, metavar="FILE", help="write FILE and FILE.tsq, an RFC 3161 request")
    lodge_.set_defaults(run=lodge)


def verify(asked: argparse.Namespace) -> int:
    """Verify a fleet file or a printed fingerprint; exit code 1 when anything differs."""
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
