"""The deeds of a pack's life for the table of who may do what: water, hire, the maker, vans, parts, its end."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.domain.away import BackAs, CameBack, Missing, MissingNoted, Recovered, SentToMaker, WentMissing
from fleetcare.domain.bays import BayCover, PackStuck, Stuck
from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.domain.disposing import Disposed
from fleetcare.domain.hire_return import Damage, HireReturn, LookedAgain, Warmth
from fleetcare.domain.packs import Depot, PairRule, ServiceNotes
from fleetcare.domain.replacing import FittedPart, PartReplaced, Replaced
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.water import Dried, WaterKind, Wetted
from fleetcare.services import (
    bays,
    disposal,
    going_missing,
    hire_returns,
    maker_returns,
    record,
    replacing,
    stock,
    van_lists,
    watering,
)
from fleetcare.services.session import Author
from tests.kestrel import MONDAY, Kestrel
from tests.role_kinds import BADGE, Deed, Ready, Who, both

D = Decimal
EARLIER = MONDAY - dt.timedelta(hours=3)
CONNECTOR = (
    Part("S-04", PartKind.CONNECTOR, "connector K2, pack", "CN-K2-P", ("K2",), half="pack"),
    Part("S-05", PartKind.CONNECTOR, "connector K2, vehicle", "CN-K2-V", ("K2",), half="vehicle"),
)


# what must be on record before


def _gone(made: Kestrel, _folder: Path) -> None:
    going_missing.record_missing(*both(made), made.author(), WentMissing("P-1011", None, Missing.LOST, MONDAY))


def _warm(made: Kestrel, _folder: Path) -> None:
    back = HireReturn("P-1007", "EB-17", EARLIER, (), Damage.NONE, Warmth.SUN_OR_RIDE, charger="C-36-1")
    hire_returns.record_return(*both(made), made.author(), back, (b"\x89PNG\r\n\x1a\nseen",))


def _dewy(made: Kestrel, _folder: Path) -> None:
    watering.record_water(*both(made), made.author(), Wetted("P-1003", "EB-13", EARLIER, WaterKind.DEW))


def _sent(made: Kestrel, _folder: Path) -> None:
    maker_returns.record_sent(*both(made), made.author(), _to_maker())


def _repaired(made: Kestrel, folder: Path) -> None:
    _sent(made, folder)
    maker_returns.record_back(*both(made), made.author(), CameBack("P-1011", MONDAY, BackAs.REPAIRED, "REP-1", "board"))


def _parts(made: Kestrel, _folder: Path) -> None:
    notes = ServiceNotes("K36-A", connector_by_workshop=True)
    record.put_things(*both(made), made.author("ORMOND"), ("service_notes", notes))
    for part in CONNECTOR:
        stock.put_part(*both(made), made.author(), part)
        stock.book_in(*both(made), made.author(), part.code, 2)


def _depots(made: Kestrel, _folder: Path) -> None:
    record.put_things(*both(made), made.author("ORMOND"), ("depot", Depot("HY", "Heron Yard")))


def _loaded(made: Kestrel, folder: Path) -> str:
    _depots(made, folder)
    return van_lists.record_loaded(*both(made), made.author(), _load(made))[1]


# the deeds


def _to_maker() -> SentToMaker:
    return SentToMaker("P-1011", MONDAY, "Northfield Packs", "RN-5", "Northfield Carriers", dt.date(2026, 11, 16))


def _load(made: Kestrel) -> van_lists.ToLoad:
    return van_lists.ToLoad("KW", "HY", "Pike", (van_lists.listed(made.store, "P-1011", "KW", ()),), True)


def _look_again(warm: bool) -> Any:
    look = LookedAgain("P-1007", MONDAY, warm)
    return lambda m, a, _r: hire_returns.look_again(*both(m), a, look)


def _back(outcome: BackAs) -> Any:
    back = CameBack("P-1011", MONDAY, outcome, "REP-1", "display board")
    return lambda m, a, _r: maker_returns.record_back(*both(m), a, back, badge=a.person.badge)


def _first_checks(made: Kestrel, author: Author, _ready: Ready) -> object:
    papers = maker_returns.FirstPapers(
        "P-1011", ("EN 62133-2",), warranty_clause="none", charger="C-36-1", no_photo_reason="label as before"
    )
    check = VoltageCheck("P-1011", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.60"), MONDAY, "M-01", None,
                         D("40.40"), D("8"), 10, D("20"))  # fmt: skip
    look = LookOver("P-1011", MONDAY)
    return maker_returns.record_first_checks(*both(made), author, author.person.badge, papers, check, look)


def _replace(made: Kestrel, author: Author, _ready: Ready) -> object:
    fitted = (FittedPart("S-04", "CN-K2-P"), FittedPart("S-05", "CN-K2-V"))
    work = PartReplaced("P-1002", "EB-12", MONDAY, Replaced.CONNECTOR, fitted, "SL-36", D("41.30"), D("41.31"), "M-01")
    return replacing.record_replacement(*both(made), author, work, author.person.badge)


def _dispose(made: Kestrel, author: Author, _ready: Ready) -> object:
    given = Disposed("P-1011", MONDAY, "Northfield Carriers", "NC-4410", D("2.9"))
    return disposal.record_disposed(*both(made), author, author.person.badge, given)


LIFE: tuple[Deed, ...] = (
    Deed("watering.record_water", "note water on a pack or a vehicle", Who.ANYONE,
         lambda m, a, _r: watering.record_water(*both(m), a, Wetted("P-1003", "EB-13", MONDAY, WaterKind.IMMERSION)),
         note="it holds what the rule says"),
    Deed("watering.record_dried", "note that a pack is dry", Who.MAY_CHECK,
         lambda m, a, _r: watering.record_dried(*both(m), a, Dried("P-1003", MONDAY)), _dewy),
    Deed("bays.record_cover", "note the cover of an empty bay", Who.ANYONE,
         lambda m, a, _r: bays.record_cover(*both(m), a, BayCover("CB-01", 2, MONDAY, False)),
         lambda m, _f: made_empty(m)),
    Deed("bays.record_stuck", "note that a pack cannot be taken out", Who.ANYONE,
         lambda m, a, _r: bays.record_stuck(*both(m), a, PackStuck("P-1002", "EB-12", MONDAY, Stuck.JAMMED))),
    Deed("bays.put_rule", "record what the maker asks of two packs side by side", Who.MANAGER,
         lambda m, a, _r: bays.put_rule(*both(m), a, "CB-01", PairRule(same_model=True, source="the maker")),
         note="its source"),
    Deed("hire_returns.record_return", "note a pack back from hire", Who.ANYONE,
         lambda m, a, _r: hire_returns.record_return(
             *both(m), a, HireReturn("P-1007", "EB-17", MONDAY, (), Damage.UNKNOWN, Warmth.COOL, (), "no camera",
                                     damage_what="dent")),
         note="it holds what the rule says"),
    Deed("hire_returns.look_again", "look again at a warm return: cool", Who.MAY_CHECK, _look_again(False), _warm,
         note="the hold for warmth ends only where the person may reset and release, with the own badge"),
    Deed("hire_returns.look_again", "look again at a warm return: still warm", Who.ANYONE, _look_again(True), _warm,
         note="it quarantines the pack"),
    Deed("going_missing.record_missing", "put a pack or vehicle on record as lost or stolen", Who.ANYONE,
         lambda m, a, _r: going_missing.record_missing(
             *both(m), a, WentMissing(None, "EB-12", Missing.STOLEN, MONDAY))),
    Deed("going_missing.note_missing", "add what is known of something missing", Who.ANYONE,
         lambda m, a, _r: going_missing.note_missing(
             *both(m), a, MissingNoted("P-1011", None, MONDAY, police="CR-1")), _gone),
    Deed("going_missing.record_recovered", "note that something missing is back", Who.ANYONE,
         lambda m, a, _r: going_missing.record_recovered(*both(m), a, Recovered("P-1011", None, MONDAY, "Q-1")), _gone,
         note="it is held until inspected"),
    Deed("maker_returns.record_sent", "send a pack to its maker", Who.RELEASE_OR_MANAGER,
         lambda m, a, _r: maker_returns.record_sent(*both(m), a, _to_maker()),
         note="a return number; a quarantined pack the six transport heads"),
    Deed("maker_returns.record_back", "note a pack back from its maker", Who.MAY_CHECK, _back(BackAs.REPAIRED), _sent,
         note="it is held until its first checks"),
    Deed("maker_returns.record_back", "note that the maker kept or replaced a pack, which writes it off",
         Who.RELEASE_OR_MANAGER, _back(BackAs.KEPT), _sent, note=BADGE),
    Deed("maker_returns.record_first_checks", "record the first checks of a pack from its maker", Who.MAY_RELEASE,
         _first_checks, _repaired, note=BADGE),
    Deed("replacing.record_replacement", "replace a display board or a connector", Who.MAY_RELEASE, _replace, _parts,
         note=f"{BADGE}; only what the maker describes"),
    Deed("stock.put_part", "add or change a part of the stock", Who.MAY_CHECK,
         lambda m, a, _r: stock.put_part(*both(m), a, Part("S-09", PartKind.SEAL, "cover seal", "SL-48"))),
    Deed("stock.book_in", "book parts in", Who.MAY_CHECK,
         lambda m, a, _r: stock.book_in(*both(m), a, "S-04", 5), _parts),
    Deed("stock.count", "count parts", Who.MAY_CHECK,
         lambda m, a, _r: stock.count(*both(m), a, "S-04", 1, "one was broken"), _parts, note="a reason"),
    Deed("stock.use", "use parts outside a job that books them out", Who.MAY_CHECK,
         lambda m, a, _r: stock.use(*both(m), a, "S-04", 1, "tried a fit"), _parts, note="a reason"),
    Deed("van_lists.record_loaded", "load a van", Who.ANYONE,
         lambda m, a, _r: van_lists.record_loaded(*both(m), a, _load(m)), _depots,
         note="nothing held, recalled or wet goes on it"),
    Deed("van_lists.record_arrived", "unload a van", Who.ANYONE,
         lambda m, a, number: van_lists.record_arrived(*both(m), a, number, ("P-1011",), "Rack 2"), _loaded),
    Deed("disposal.record_disposed", "hand a worn-out pack over, or keep the papers of one that is gone",
         Who.RELEASE_OR_MANAGER, _dispose, note=f"{BADGE}; never a quarantined pack"),
)  # fmt: skip


def made_empty(made: Kestrel) -> None:
    """Bay 2 of CB-01 is empty."""
    record.record_found_in(*both(made), made.author(), record.FoundIn("P-1302", None, MONDAY, shelf="Store"))
