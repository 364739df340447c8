"""What bars a pack from a charger whatever the charger is: quarantine, a recall, silence after a long rest, low volts."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain import fault_tree
from fleetcare.domain.checks import CheckKind, HoldClass
from fleetcare.domain.judging import shows_nothing
from fleetcare.domain.packs import PackModel
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.store.store import View

_LOW = {"low.low_hold": "charge.low", "low.near_do_not_charge": "charge.near_deep"}


def silent_bar(view: View, code: str, model: PackModel, today: dt.date) -> Message | None:
    """Why a pack that reads nothing is never put on a charger, or None where it was seen with volts lately.

    A reading of nothing does not count as having seen it.
    """
    checks = [one.check for one in view.checks_of(code) if one.void_position is None]
    seen = max((view.day(one.done_at) for one in checks if not shows_nothing(one.rested_v, model)), default=None)
    last = max((view.day(one.done_at) for one in checks), default=None)
    if _out_of_storage(view, code):
        return msg("tree.no_charge_stored", pack=code, last_date=last)
    if fault_tree.may_charge(seen, today, after_storage=False):
        return None
    if seen is None:
        return msg("tree.no_charge_ever", pack=code)
    return msg("tree.no_charge", pack=code, last_date=seen, limit_days=fault_tree.UNSEEN_DAYS)


def _out_of_storage(view: View, code: str) -> bool:
    """True where the pack is laid up, or nobody has checked it otherwise than stored since it was."""
    put_away = [e.done_at for kind in ("laid_up", "lay_up_ended") for e in view.records_of(kind, ("pack", code))]
    checks = [one.check for one in view.checks_of(code) if one.void_position is None]
    put_away += [one.done_at for one in checks if one.kind is CheckKind.STORED]
    used = [one.done_at for one in checks if one.kind is not CheckKind.STORED]
    return bool(put_away) and (not used or max(used) <= max(put_away))


def reads_nothing(view: View, code: str, model: PackModel) -> bool:
    """True where its newest reading is silent."""
    latest = view.latest_checks([code]).get(code)
    return latest is not None and shows_nothing(latest.rested_v, model)


def bar(view: View, code: str, model: PackModel, today: dt.date) -> Ruling | None:
    """What speaks against a charge, the strictest first; None where nothing does.

    A low pack may be charged by the rule that its sentence names; the others never.
    """
    holds = view.open_holds(("pack", code))
    for hold in holds:
        if hold.hold_class is HoldClass.DANGER and not by_recall(hold.reason):
            return Ruling(
                HoldClass.DANGER, msg("charge.quarantined", pack=code, reason_sentence=hold.remark or hold.reason)
            )
    if reads_nothing(view, code, model):
        silent = silent_bar(view, code, model, today)
        if silent is not None:
            return Ruling(HoldClass.DANGER, silent)
    for hold in holds:
        if by_recall(hold.reason):
            return Ruling(HoldClass.DANGER, msg("charge.recalled", pack=code, number=hold.reason.value("number")))
    for hold in holds:
        key = _LOW.get(hold.reason.key)
        if key is not None:
            return Ruling(HoldClass.FAULT, msg(key, pack=code, reason_sentence=hold.reason))
    return None
