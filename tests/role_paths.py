"""Where in the program each restricted deed of the table is done, so that none is left untried.

`PRESSED`: at the window, and how it is pressed there.  `AT_THE_COMMAND_LINE`: there only.  `BY_ITSELF` of
`role_kinds`: never asked for, but done as part of another deed.  A restricted line of the table that stands in none of them fails
`tests/journeys/test_roles.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetcare.domain.away import BackAs
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.decisions import Choice as Decided
from fleetcare.domain.wording import msg
from fleetcare.services import record
from tests.kestrel import MONDAY, Kestrel
from tests.role_presses import (
    another_pin,
    begin_job,
    break_meter,
    bring_in,
    colleagues_draft,
    collect,
    condition,
    correct,
    finish_job,
    fuse,
    in_a_job,
    inspected_good,
    judged_report,
    lodge,
    new_pack,
    next_label,
    next_pause,
    paper_line,
    passport,
    person,
    print_labels,
    prove_meter,
    release,
    rules,
    save_check,
    settle,
    take_back,
    training,
    trips,
    walk,
)
from tests.role_presses_life import (
    absence,
    allow_putting_off,
    back_from_maker,
    close_incident,
    cool,
    decide,
    dried,
    first_checks,
    inspection,
    lay_up,
    new_part,
    pairing_rule,
    plans,
    purchase,
    put_off,
    read_edges,
    recall,
    replace_connector,
    stocked,
    storage_look,
    take_out,
    vehicle_away,
)
from tests.role_presses_setup import change_vehicle, name_on_paper, vehicle_list
from tests.role_pressing import Press, card, deed_page

PRESSED: dict[str, Press] = {
    "save a check": save_check,
    "correct a check": correct,
    "throw away a colleague's draft": colleagues_draft,
    "release what is grounded or held": release,
    "add a person, change roles, level or badge": person,
    "print a leaver as initials": name_on_paper,
    "set up a depot, pack model, vehicle, charger, meter, test load or the settings": change_vehicle,
    "record a list of vehicles": vehicle_list,
    "set or take away another's PIN": another_pin,
    "judge a trip while reporting it": judged_report,
    "say why a trip happened": trips("judge_button"),
    "note a reset": trips("reset_button"),
    "begin a guided reset": begin_job,
    "tick the steps of a guided reset": in_a_job(next_pause),
    "finish a guided reset": in_a_job(finish_job),
    "note what a fuse looks like": fuse(fitted=False),
    "change a fuse": fuse(fitted=True),
    "keep a fault-finding walk that holds": walk,
    "test a charger's output": deed_page("faults", "chargers", "output_button", charger="C-36-1", measured_v="42.0"),
    "hand a pack to a carrier and write it off": collect,
    "take a new pack into service": new_pack,
    "make the next label of a pack": next_label,
    "print labels": print_labels,
    "prove a meter": prove_meter,
    "mark a meter as found out": break_meter,
    "enter a line of a paper sheet": paper_line,
    "take an import back": take_back,
    "bring in an old spreadsheet": bring_in,
    "settle parked rows": settle,
    "record a lodged fingerprint": lodge,
    "record a condition of the policy": condition,
    "close an incident": close_incident,
    "end a recall's hold by the maker's remedy": recall("clear", number="R-1", remedy="new pack"),
    "end a recall's hold by the serial read on the case": recall("read", serial="2403-0790"),
    "take a recall back that was entered wrongly": recall("back", reason="typed wrongly"),
    "decide to carry on or to replace": decide(Decided.CARRY_ON),
    "decide to re-check or to pull": decide(Decided.RECHECK),
    "put a due check off": put_off,
    "allow due checks to be put off": allow_putting_off,
    "look a vehicle, charger or meter over: good": inspected_good,
    "record a training": training,
    "put a contractor's meter on record": card(
        "identity", "competence", "meter", meter="X-01", name="hand-held", accuracy="0.5", digits="2", digit_v="0.01",
        owner="Brook Electric"),
    "note that a pack is dry": dried,
    "record what the maker asks of two packs side by side": pairing_rule,
    "look again at a warm return: cool": cool,
    "send a pack to its maker": deed_page(
        "away", "maker", "send_button", pack="P-1011", maker="Northfield Packs", return_number="RN-5",
        carrier="Northfield Carriers", expected_on="2026-11-16"),
    "note a pack back from its maker": back_from_maker(BackAs.REPAIRED),
    "note that the maker kept or replaced a pack, which writes it off": back_from_maker(BackAs.KEPT),
    "record the first checks of a pack from its maker": first_checks,
    "replace a display board or a connector": replace_connector,
    "add or change a part of the stock": new_part,
    "book parts in": stocked("in", pieces="5"),
    "count parts": stocked("count", pieces="1", reason="one was broken"),
    "use parts outside a job that books them out": stocked("out", pieces="1", reason="tried a fit"),
    "hand a worn-out pack over, or keep the papers of one that is gone": deed_page(
        "away", "disposal", "keep_button", pack="P-1011", carrier="Northfield Carriers", consignment="NC-4410", weight="2.9"),
    "note another's absence or a depot's closing days": absence,
    "note that a vehicle is away": vehicle_away,
    "change an inspection plan": plans("plan", kind="yearly", code="YEARLY", every_days="180", source="the maker"),
    "change a person's hours for checks": plans("hours", person="DUNN", depot="KW", minutes="60, 60, 60, 60, 60, 0, 0"),
    "choose whose public holidays hold at a depot": plans("calendar", depot="KW", country="GB", subdivision="ENG"),
    "read the projections into the plan": read_edges,
    "keep an inspection of a plan that finds nothing": inspection,
    "keep one whose plan asks for more": inspection,
    "lay packs up": lay_up,
    "look at a laid-up pack": storage_look,
    "take packs out of lay-up": take_out,
    "choose the rules that a depot follows": rules("record_rules"),
    "add the depot's own text to a procedure": rules("record_text"),
    "record the purchase of a pack": purchase,
    "keep the passport code of a pack": passport,
}  # fmt: skip


_TOML = {
    "change the standing, purchase or pairing rule of one on record":
        '[[pack]]\ncode = "P-1002"\nmodel = "K36-A"\nstanding = "retired"\n',
    "add or change a pack model":
        '[[pack_model]]\ncode = "L37"\nname = "L37"\nchemistry = "NMC"\nseries_count = 10\nvoltage_class_v = 36\n'
        'full_v = "42.0"\ncapacity_ah = "15"\nconnector = "K2"\n',
    "change what the maker describes for the workshop": '[[service_notes]]\ncode = "K36-A"\ndriver = "hex 3"\n',
    "change the site's settings": '[[site_rules]]\ncode = "SITE"\nname = "K"\n',
}  # fmt: skip


def _described(words: str) -> Callable[[Path, Any], list[str]]:
    def command(folder: Path, _ready: Any) -> list[str]:
        path = folder / "change.toml"
        path.write_text(_TOML[words], "utf-8")
        return ["import", "fleet", str(path)]

    return command


def _something_held(made: Kestrel, _folder: Path) -> None:
    brake = Hold("vehicle", "CB-06", HoldClass.FAULT, MONDAY, msg("ground.by_person"), "brake")
    record.set_hold(made.store, made.clock, made.author(), brake)


PREPARED: dict[str, Callable[[Kestrel, Path], Any]] = {"look a vehicle, charger or meter over: good": _something_held}
"""What the window needs on record before, where the deed itself needs less."""

AT_THE_COMMAND_LINE: dict[str, Callable[[Path, Any], list[str]]] = {
    **{words: _described(words) for words in _TOML},
    "import a table of checks": lambda _f, path: ["import", "checks", str(path)],
    "import measured cell histories": lambda _f, path: ["import", "measured", str(path), "--series", "10"],
    "import a description of the fleet": lambda _f, path: ["import", "fleet", str(path)],
}
"""The command, without fleet and person; `ready` is what the table prepared."""
