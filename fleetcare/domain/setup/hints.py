"""What stands below the fields of a set-up form while it is typed: defaults with their source, and what to look at again.

A text that is no number yet only leaves its hint away; it is refused when it is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from fleetcare.domain.fuses import Body, FuseSpec, unusual
from fleetcare.domain.limits import GROUP_LIMITS, PRACTICE, PROPOSAL
from fleetcare.domain.loosening import HIGHER_IS_LOOSER, LOWER_IS_LOOSER, figure_loosened
from fleetcare.domain.packs import Chemistry, SiteRules
from fleetcare.domain.setup.forms import OWN_LIMITS, UNITS, Entry, fields_of, limit_field
from fleetcare.domain.wording import Message, msg

LEAST, MOST = Decimal("1e-6"), Decimal("1e9")
"""No figure of a form is smaller or larger."""

TWO_SIZES = (13, 14)
"""Groups that are both sold as 48 V."""


@dataclass(frozen=True, slots=True)
class Hint:
    """One line below a field; `grave` where somebody should look again."""

    text: Message
    grave: bool = False


def hints(kind: str, typed: Mapping[str, str], site: SiteRules) -> dict[str, Hint]:
    """The lines below the fields of a form as it is typed."""
    if kind == "pack_model":
        return _model_hints(typed, site)
    if kind == "site_rules":
        return _setting_hints(typed, site)
    found: dict[str, Hint] = {}
    if kind == "charger":
        rated, share = number(typed.get("rated_v", "")), number(typed.get("tolerance_percent", ""))
        if rated and share:
            band = rated * share / 100
            found["tolerance_percent"] = Hint(
                msg("setup.band", low_v=_volts(rated - band), high_v=_volts(rated + band))
            )
    if kind == "meter":
        percent, digits = number(typed.get("accuracy_percent", "")), number(typed.get("accuracy_digits", ""))
        digit = number(typed.get("digit_v", ""))
        if percent is not None and digits is not None and digit:
            within = (Decimal("42") * percent / 100 + digits * digit).quantize(Decimal("0.001"))
            found["digit_v"] = Hint(msg("setup.meter_at", at_v=Decimal("42.00"), within_v=within))
    return found


def _setting_hints(typed: Mapping[str, str], site: SiteRules) -> dict[str, Hint]:
    """The default of every setting, and by whose word another one holds; one looser than its default says so."""
    default, sources, found = SiteRules(), dict(site.sources), {}
    for name, spec in fields_of("site_rules").items():
        usual = getattr(default, name, None)
        if name in ("code", "name", "why") or usual is None:
            continue
        if spec.entry is Entry.YES:
            found[name] = Hint(msg("setup.setting_off"), grave=False)
            continue
        own = number(typed.get(name, ""))
        loose = own is not None and (
            own > usual if name in HIGHER_IS_LOOSER else name in LOWER_IS_LOOSER and own < usual
        )
        shown = f"{usual} {spec.unit or UNITS.get(spec.entry, '')}".strip()
        key = "setup.setting_looser" if loose else "setup.setting_default"
        by = sources.get(name, "")
        found[name] = Hint(
            msg(key, default=shown, source=PROPOSAL, by=msg("setup.setting_by", source=by) if by else ""), loose
        )
    return found


def number(text: str) -> Decimal | None:
    """A typed number, or None for what is none yet, or so large or so fine that it is no figure of a pack."""
    try:
        value = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        return None
    return value if value.is_finite() and (not value or LEAST <= abs(value) < MOST) else None


def _volts(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.01"))


def _model_hints(typed: Mapping[str, str], site: SiteRules) -> dict[str, Hint]:
    found: dict[str, Hint] = {}
    chemistry = Chemistry(typed["chemistry"]) if typed.get("chemistry") else None
    groups, full = number(typed.get("series_count", "")), number(typed.get("full_v", ""))
    if chemistry is not None:
        found |= _limit_hints(chemistry, typed, site)
        each = _full_default(chemistry)
        if groups and full:
            found["full_v"] = Hint(msg("setup.each", each_v=_volts(full / groups), groups=int(groups)))
        elif groups:
            found["full_v"] = Hint(
                msg("setup.usual_full", groups=int(groups), each_v=each, full_v=_volts(groups * each))
            )
        if groups is not None and int(groups) in TWO_SIZES:
            few, many = (each * n for n in TWO_SIZES)
            found["series_count"] = Hint(msg("setup.two_sizes", few_v=few, many_v=many), grave=True)
    found |= _resistance_hints(typed, site)
    found |= _fuse_hints(typed)
    if groups:
        low, high = site.storage_low_group_v * groups, site.storage_high_group_v * groups
        found["storage_low_v"] = Hint(msg("setup.storage_default", low_v=low, high_v=high, source=PROPOSAL))
    window = number(typed.get("charge_min_c", "")), number(typed.get("charge_max_c", ""))
    if window != (Decimal(0), Decimal(45)):
        wider = None not in window and (window[0] < 0 or window[1] > 45)  # type: ignore[operator]
        key = "setup.window_wider" if wider else "setup.window_default"
        found["charge_max_c"] = Hint(msg(key, low_c=0, high_c=45), grave=bool(wider))
    else:
        found["charge_max_c"] = Hint(msg("setup.window_practice", source=PRACTICE))
    return found


def _full_default(chemistry: Chemistry) -> Decimal:
    return next(one.value for one in GROUP_LIMITS[chemistry] if one.name == "full")


def _limit_hints(chemistry: Chemistry, typed: Mapping[str, str], site: SiteRules) -> dict[str, Hint]:
    """The default of every limit with its source; an own figure that is looser says so."""
    sites = {name: (value, source) for name, value, source in site.limit_figures}
    found = {}
    for default in GROUP_LIMITS[chemistry]:
        if default.name not in OWN_LIMITS:
            continue
        value, source = sites.get(default.name, (default.value, default.source))
        own = number(typed.get(limit_field(default.name), ""))
        loose = own is not None and bool(figure_loosened(default.name, value, own))
        key = "setup.limit_default" if own is None else "setup.limit_looser" if loose else "setup.limit_own"
        found[limit_field(default.name)] = Hint(msg(key, default_v=value, source=source), grave=loose)
    return found


def _resistance_hints(typed: Mapping[str, str], site: SiteRules) -> dict[str, Hint]:
    if site.resistance_watch_ohm is not None and site.resistance_pull_ohm is not None:
        fixed = msg("setup.fixed_ohm", watch_ohm=site.resistance_watch_ohm, pull_ohm=site.resistance_pull_ohm)
        return {"baseline_resistance_ohm": Hint(fixed)}
    ohm = number(typed.get("baseline_resistance_ohm", ""))
    if not ohm:
        return {"baseline_resistance_ohm": Hint(msg("setup.no_baseline"))}
    lines = msg("setup.baseline_lines", watch_ohm=(ohm * site.resistance_watch_ratio).quantize(Decimal("0.0001")),
                pull_ohm=(ohm * site.resistance_pull_ratio).quantize(Decimal("0.0001")), source=PROPOSAL)  # fmt: skip
    return {"baseline_resistance_ohm": Hint(lines)}


def _fuse_hints(typed: Mapping[str, str]) -> dict[str, Hint]:
    limit, amps = number(typed.get("bms_limit_a", "")), number(typed.get("fuse_a", ""))
    full = number(typed.get("full_v", ""))
    found: dict[str, Hint] = {}
    if full:
        found["fuse_dc_v"] = Hint(msg("setup.fuse_volts", full_v=full))
    if limit and amps:
        key = "setup.fuse_gap" if limit < amps else "fuse.fuse_first"
        found["fuse_a"] = Hint(msg(key, limit_amp=limit, rated_amp=amps), grave=key == "fuse.fuse_first")
    body = typed.get("fuse_body", "")
    if amps and body and unusual(FuseSpec(amps, None, Body(body))):
        found["fuse_part"] = Hint(msg("setup.fuse_unusual", rated_amp=amps), grave=True)
    return found
