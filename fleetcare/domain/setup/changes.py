"""What changed in a thing, field by field, as it is shown before saving and in its history."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.limits import GROUP_LIMITS
from fleetcare.domain.loosening import HIGHER_IS_LOOSER, LOWER_IS_LOOSER, NONE_IS_LOOSER, figure_loosened
from fleetcare.domain.packs import Chemistry
from fleetcare.domain.setup.forms import NOT_KEPT, UNITS, Entry, FieldSpec, fields_of
from fleetcare.domain.setup.hints import number
from fleetcare.domain.setup.reading import YES, Typed, label_of
from fleetcare.domain.wording import Message, msg, word


@dataclass(frozen=True, slots=True)
class Change:
    """One field before and after, as text; `loosened` where the new value lets more pass than the old one."""

    name: str
    told: Message
    loosened: bool = False


def changes(kind: str, before: Typed, after: Typed) -> tuple[Change, ...]:
    """Every field in which two forms of one thing differ, in the order of the form."""
    return tuple(
        _change(kind, field, before, after)
        for name, field in fields_of(kind).items()
        if name not in NOT_KEPT and before.get(name, "") != after.get(name, "")
    )


def _change(kind: str, field: FieldSpec, before: Typed, after: Typed) -> Change:
    name = field.name
    what = label_of(kind, name)
    loosened = kind in ("pack_model", "site_rules") and _loosened(name, before, after)
    told = {"before": shown(field, before.get(name, "")), "after": shown(field, after.get(name, ""))}
    return Change(name, msg("setup.change_looser" if loosened else "setup.change", what=what, **told), loosened)


def _loosened(name: str, before: Typed, after: Typed) -> bool:
    if name.startswith("limit_"):
        limit = name.removeprefix("limit_")
        old, new = (number(one.get(name, "")) or _default(one, limit) for one in (before, after))
        return bool(figure_loosened(limit, old, new))
    low, high = (number(one.get(name, "").replace(YES, "1") or "") for one in (before, after))
    if name == "extension_allowed":
        return high is not None
    if name in NONE_IS_LOOSER and low is not None and high is None:
        return True
    if low is None or high is None:
        return False
    return high > low if name in HIGHER_IS_LOOSER or name == "charge_fuse_a" else name in LOWER_IS_LOOSER and high < low


def _default(typed: Typed, limit: str) -> Decimal | None:
    chemistry = typed.get("chemistry", "")
    limits = GROUP_LIMITS[Chemistry(chemistry)] if chemistry else ()
    return next((one.value for one in limits if one.name == limit), None)


def shown(field: FieldSpec, text: str) -> str:
    """What is typed in a field, in words: with its unit, a tick as yes or no, nothing as a dash."""
    if field.entry is Entry.YES:
        return word("setup.yes" if text else "setup.no")
    if not text:
        return "—"
    if field.name == "output_live_when_off":
        return word(f"setup.live_{text}")
    if field.name == "kind":
        return word(f"vehicle_kind.{text}")
    if field.name in ("fuse_body", "charge_fuse_body"):
        return word(f"fuse_body.{text}")
    return f"{text} {field.unit or UNITS.get(field.entry, '')}".strip()
