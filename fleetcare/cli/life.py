"""Commands along a pack's life: parts, what is away, van lists, disposal."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetcare.cli.opening import author, opened
from fleetcare.cli.tables import table
from fleetcare.domain.wording import msg, say, show_date, show_moment, word
from fleetcare.services import disposal as disposals
from fleetcare.services import going_missing, maker_returns, stock, van_lists


def add_commands(
    commands: Any, fleet: Callable[[argparse.ArgumentParser], None], form: Callable[[argparse.ArgumentParser], None]
) -> None:
    """Add the commands of this module; `fleet` and `form` add the options they share with all others."""
    for name, help_text, command in (
        ("parts", "print the stock of parts, or with --order what to order", parts),
        ("elsewhere", "print what is lost, stolen, at its maker or on a van", elsewhere),
        ("vans", "print van lists under way, or write one as PDF with --number and --output", vans),
        ("disposal", "print written-off packs with weight, receipt and waste chain", disposal),
    ):
        one = commands.add_parser(name, help=help_text)
        fleet(one)
        form(one)
        one.set_defaults(run=command)
        if name == "parts":
            one.add_argument("--order", action="store_true", help="only parts at or below their reorder level")
            one.add_argument(
                "--in", dest="book_in", metavar="CODE", help="book pieces of a part in (with --pieces and --as)"
            )
            one.add_argument("--count", metavar="CODE", help="the shelf was counted (with --pieces, --reason and --as)")
            one.add_argument("--pieces", type=int, default=0, help="how many")
            one.add_argument("--reason", default="", help="why a count differs, or the delivery note")
            one.add_argument("--as", dest="person", default="", help="code of the person")
        if name == "vans":
            one.add_argument("--number", help="one van list, such as V-0001")
            one.add_argument("--output", type=Path, help="PDF to write")
            one.add_argument("--page", choices=("A4", "Letter"), help="paper (default: your preference)")
            one.add_argument("--all", action="store_true", help="also lists that have arrived")


def parts(asked: argparse.Namespace) -> int:
    """Print the stock, or book pieces in, or keep a count."""
    app = opened(asked.fleet)
    if asked.book_in or asked.count:
        who = author(app, asked.person)
        code = (asked.book_in or asked.count).upper()
        if asked.book_in:
            done = stock.book_in(app.store, app.clock, who, code, asked.pieces, asked.reason)
        else:
            done = stock.count(app.store, app.clock, who, code, asked.pieces, asked.reason)
        print(say(done.message))
        return 0
    lines = stock.stock(app.store, app.clock)
    if asked.order:
        lines = tuple(one for one in lines if one.order)
    if not lines and asked.format == "text":
        print(word("parts.order_none") if asked.order else word("parts.empty"))
        return 0
    rows = [
        (
            one.part.code, one.part.name, one.part.part_number, ", ".join(one.part.fits), str(one.have),
            str(one.part.reorder_level), str(one.order), str(one.used_90_days), one.part.location,
            "" if one.cost is None else f"{one.cost:.2f} {one.part.currency}".strip(),
        )
        for one in lines
    ]  # fmt: skip
    headings = (
        "part",
        "name",
        "part number",
        "fits",
        "on hand",
        "reorder at",
        "order",
        "used 90 days",
        "place",
        "cost",
    )
    print(table(headings, rows, asked.format), end="")
    return 0


def elsewhere(asked: argparse.Namespace) -> int:
    """Print what is ours but not here."""
    app = opened(asked.fleet)
    now = app.clock()
    rows = []
    with app.store.view() as view:
        for gone in going_missing.missing_lines(view, now):
            known = "; ".join((*gone.police, *gone.insurer)) or word("away.no_reference")
            at = show_moment(gone.since)
            rows.append((gone.code, word(f"missing.{gone.standing}"), at, gone.person, gone.last_place, known))
        for sent in maker_returns.maker_lines(view, now):
            at = show_moment(sent.sent.done_at)
            told = f"{sent.sent.maker}, {sent.sent.return_number}"
            rows.append((sent.pack, word("standing.at_maker"), at, sent.person, told, say(sent.expected)))
    for van in van_lists.van_pages(app.store, app.clock):
        at = show_moment(van.loaded.done_at)
        more = at, van.person, van.to_name, van.loaded.number
        rows += [(code, word("standing.on_the_way"), *more) for code in van.open]
    if not rows and asked.format == "text":
        print(word("away.nothing_away"))
        return 0
    print(table(("what", "state", "since", "who", "where", "more"), rows, asked.format), end="")
    return 0


def vans(asked: argparse.Namespace) -> int:
    """Print van lists, or write one as PDF."""
    app = opened(asked.fleet)
    if asked.number and asked.output:
        from fleetcare.reports import every_sheet

        order = every_sheet.Order("van", asked.page or app.settings.page, "", app.clock(), asked.number)
        every_sheet.write(order, app.store, app.clock, asked.output)
        print(say(msg("cli.written", path=str(asked.output))))
        return 0
    pages = (
        (van_lists.van_page(app.store, app.clock, asked.number),)
        if asked.number
        else van_lists.van_pages(app.store, app.clock, only_open=not asked.all)
    )
    if not pages and asked.format == "text":
        print(word("van.none"))
        return 0
    rows = [
        (
            van.loaded.number, van.from_name, van.to_name, show_moment(van.loaded.done_at), van.loaded.driver, item.code,
            say(item.where), say(item.mark), "yes" if item.arrived else "",
        )
        for van in pages
        for item in van.items
    ]  # fmt: skip
    headings = ("list", "from", "to", "left", "driver", "what", "how", "goes as", "arrived")
    print(table(headings, rows, asked.format), end="")
    return 0


def disposal(asked: argparse.Namespace) -> int:
    """Print written-off packs with their papers."""
    app = opened(asked.fleet)
    page = disposals.disposal_page(app.store)
    if not page.lines and asked.format == "text":
        print(word("disposal.none"))
        return 0
    rows = [
        (
            one.pack, show_date(one.gone_at.date()) if one.gone_at else "", one.carrier, one.consignment,
            "" if one.weight_kg is None else str(one.weight_kg), one.receipt, one.plant, one.waste_chain,
            disposals.open_words(one),
        )
        for one in page.lines
    ]  # fmt: skip
    headings = ("pack", "gone", "carrier", "consignment", "kg", "receipt", "plant", "waste chain", "still open")
    print(table(headings, rows, asked.format), end="")
    return 0
