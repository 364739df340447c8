"""Every number: limits per cell group by chemistry, each with its source; pack limits by model.

The pack maker's figure wins over the site's, and the site's over the default.  A default is
"published" (which sheet), "common practice, no source", or "proposal of this program"; a workshop
replaces it by the figure on the pack's own sheet.  Cut-offs of LFP and LTO cells differ by maker.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256

from fleetcare.domain.packs import Chemistry, PackModel, SiteRules

PRACTICE = "common practice, no source"
PROPOSAL = "proposal of this program"

LODGE_EVERY_DAYS = 7
"""Days after which the fingerprint should be lodged outside again; on the 7th day it is due (PROPOSAL)."""
_CELL_35E = "cell maker's specification, 3.5 Ah 18650 NCA cell, v1.1 (2015)"
_LFP_SHEET = "cell maker's sheet, 26650 LFP 3.3 Ah"
_LTO_DATA = "cell maker's conference data, LTO, 2008"


OHM_SCATTER = 0.044
"""Relative standard deviation of one visit's loaded resistance brought to one temperature, beside what meter and load allow:
thermometer, timing of the hold, contacts (proposal from simulated fleets)."""
OHM_SCATTER_NO_TEMPERATURE = 0.14
"""The same where a bench temperature is not known: a cold and a warm day are in it (proposal from simulated fleets)."""
FALL_DEVIATIONS = 4.0
"""A loaded resistance this many standard deviations below the pack's own is asked about (proposal; the measure by which
the projections set readings aside)."""
FALL_LEAST_CHECKS = 3
"""Fewer earlier loaded checks by the same load say too little of a pack's own resistance (proposal)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One figure: `value` in `unit`, and where it comes from."""

    name: str
    value: Decimal
    unit: str
    source: str


GROUP_NAMES = (
    "full",
    "rested_full_pass",
    "rested_full_pull",
    "over_full_query",
    "over_full_stop",
    "low_hold",
    "do_not_charge",
    "implausible_below",
)


def _group(*rows: tuple[str, str]) -> tuple[Limit, ...]:
    return tuple(
        Limit(name, Decimal(value), "V per group", source)
        for name, (value, source) in zip(GROUP_NAMES, rows, strict=True)
    )


_NICKEL = _group(
    ("4.20", f"published: {_CELL_35E}, section 3.2"),
    ("4.10", PROPOSAL),
    ("4.00", PROPOSAL),
    ("4.22", PROPOSAL),
    ("4.25", "published: over-charge release of 4.2 V class protection boards, 4.25 V"),
    ("3.00", PRACTICE),
    ("2.50", f"published: {_CELL_35E}, pack guideline (over-discharge protection)"),
    ("1.50", "field guidance: below 1.5 V per cell do not use again; the stricter of two figures"),
)

GROUP_LIMITS: dict[Chemistry, tuple[Limit, ...]] = {
    Chemistry.NMC: _NICKEL,
    Chemistry.NCA: _NICKEL,
    Chemistry.LMO: _group(
        ("4.20", "general convention for 4.2 V class cells, from memory"),
        ("4.08", PROPOSAL),
        ("3.98", PROPOSAL),
        ("4.22", PROPOSAL),
        ("4.25", "published: over-charge release of 4.2 V class protection boards, 4.25 V"),
        ("3.00", PRACTICE),
        ("2.50", "general convention for 4.2 V class cells, from memory"),
        ("1.50", "field guidance: below 1.5 V per cell do not use again"),
    ),
    Chemistry.LFP: _group(
        ("3.65", f"published: {_LFP_SHEET}"),
        ("3.33", PROPOSAL),
        ("3.30", PROPOSAL),
        ("3.66", PROPOSAL),
        ("3.75", "protection boards of the LFP class, from memory; boards differ"),
        ("2.80", PROPOSAL),
        ("2.50", f"published: {_LFP_SHEET}; another maker states 2.0 V"),
        ("1.50", PROPOSAL),
    ),
    Chemistry.LTO: _group(
        ("2.80", f"published: {_LTO_DATA}; makers differ"),
        ("2.55", PROPOSAL),
        ("2.45", PROPOSAL),
        ("2.82", PROPOSAL),
        ("2.85", PROPOSAL),
        ("1.80", PROPOSAL),
        ("1.70", f"published: {_LTO_DATA}; makers differ"),
        ("1.00", PROPOSAL),
    ),
}


@dataclass(frozen=True, slots=True)
class ResistanceLimits:
    """Watch and pull limits of the loaded resistance, in ohms at `at_c` (None: as measured).

    `load_a` and `hold_s` say for which load they hold; None where any load of the bench counts.
    """

    watch_ohm: Decimal
    pull_ohm: Decimal
    source: str
    at_c: Decimal | None = None
    load_a: Decimal | None = None
    hold_s: int | None = None


@dataclass(frozen=True, slots=True)
class PackLimits:
    """All limits of one pack model, in volts of the whole pack.  `limits_id` names their content."""

    limits_id: str
    limits: tuple[Limit, ...]
    resistance: ResistanceLimits | None
    jump_v: Decimal
    minimum_rest_minutes: int
    loaded_minimum_c: Decimal

    def volts(self, name: str) -> Limit:
        """The pack-voltage limit called `name` (see GROUP_NAMES); KeyError for another name."""
        for limit in self.limits:
            if limit.name == name:
                return limit
        raise KeyError(name)


@lru_cache(maxsize=4096)
def resolve(model: PackModel, site: SiteRules) -> PackLimits:
    """The limits of `model` at this site: maker's figure over site's figure over default."""
    series = model.series_count
    own = {name: (value, source) for name, value, source in site.limit_figures}
    own |= {name: (value, source) for name, value, source in model.limit_figures}
    found = []
    for default in GROUP_LIMITS[model.chemistry]:
        value, source = own.get(default.name, (default.value, default.source))
        found.append(Limit(default.name, value * series, "V", source))
    if "full" not in own:
        found[0] = Limit("full", model.full_v, "V", "pack maker's charge-end voltage")
    resistance = _resistance(model, site)
    limits = tuple(found)
    jump_v = site.jump_per_group_v * series
    figures = [one.value for one in found] + [jump_v, Decimal(site.minimum_rest_minutes), site.loaded_minimum_c]
    if resistance is not None:
        figures += [resistance.watch_ohm, resistance.pull_ohm]
    rule = repr(resistance and (resistance.at_c and resistance.at_c.normalize(), resistance.load_a, resistance.hold_s))
    content = " ".join([str(one.normalize()) for one in figures] + [one.source for one in found] + [rule])
    return PackLimits(
        limits_id=f"{model.code}-{sha256(content.encode()).hexdigest()[:12]}",
        limits=limits,
        resistance=resistance,
        jump_v=jump_v,
        minimum_rest_minutes=site.minimum_rest_minutes,
        loaded_minimum_c=site.loaded_minimum_c,
    )


def _resistance(model: PackModel, site: SiteRules) -> ResistanceLimits | None:
    """The site's fixed ohms where it has set them, else ratios to the model's baseline, else None."""
    if site.resistance_watch_ohm is not None and site.resistance_pull_ohm is not None:
        return ResistanceLimits(
            site.resistance_watch_ohm,
            site.resistance_pull_ohm,
            dict(site.sources).get("resistance_watch_ohm", "this site's own setting"),
            None,
            site.resistance_load_a,
            site.resistance_hold_s,
        )
    if model.baseline_resistance_ohm is None:
        return None
    return ResistanceLimits(
        _tenth_milliohm(model.baseline_resistance_ohm * site.resistance_watch_ratio),
        _tenth_milliohm(model.baseline_resistance_ohm * site.resistance_pull_ratio),
        f"{PROPOSAL}: {site.resistance_watch_ratio} and {site.resistance_pull_ratio} times the model's baseline",
        model.baseline_c,
    )


def _tenth_milliohm(ohm: Decimal) -> Decimal:
    """A product of settings as the limit that is applied and printed, to 0.0001 Ω."""
    return ohm.quantize(Decimal("0.0001"))


def limits_page() -> str:
    """The text of docs/limits.md: every default, with its source."""
    lines = [
        "# Default limits",
        "",
        "Written by `python -m fleetcare.domain.limits`; a test fails when it is out of date.",
        "Volts per cell group. The pack maker's figure, then the site's, wins over each of these.",
        "",
    ]
    for chemistry, limits in GROUP_LIMITS.items():
        lines += [f"## {chemistry.value}", "", "| limit | V per group | source |", "|---|---|---|"]
        lines += [f"| {one.name.replace('_', ' ')} | {one.value} | {one.source} |" for one in limits]
        lines.append("")
    site = SiteRules()
    lines += ["## Settings of a site", "", "| setting | default |", "|---|---|"]
    for name in SiteRules.__dataclass_fields__:
        value = getattr(site, name)
        if name not in ("code", "name", "rules_followed", "limit_figures", "sources") and value is not None:
            lines.append(f"| {name.replace('_', ' ')} | {value} |")
    lines += ["", f"Every setting without another source is a {PROPOSAL}.", ""]
    return "\n".join(lines)


if __name__ == "__main__":
    print(limits_page(), end="")
