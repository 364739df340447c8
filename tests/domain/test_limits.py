"""Limits: published pack voltages, and whose figure wins."""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.domain.limits import GROUP_LIMITS, limits_page, resolve
from fleetcare.domain.packs import Chemistry, PackModel, SiteRules

D = Decimal
DOCS = Path(__file__).parents[2] / "docs"


def model(chemistry: Chemistry, series: int, full: str) -> PackModel:
    return PackModel("X", "X", chemistry, series, 36, D(full), D("10"), "C")


@pytest.mark.parametrize(("chemistry", "series", "full"), [
    (Chemistry.NMC, 10, "42.0"), (Chemistry.NMC, 13, "54.6"), (Chemistry.NMC, 14, "58.8"), (Chemistry.LFP, 12, "43.8"),
    (Chemistry.LFP, 15, "54.75"), (Chemistry.LFP, 16, "58.4"),
])  # fmt: skip
def test_full_pack_voltage_is_groups_times_the_cells_charge_limit(chemistry: Chemistry, series: int, full: str) -> None:
    # 4.20 V: 3.5 Ah 18650 cell specification v1.1 (2015), 3.2; 3.65 V: 26650 LFP sheet; 16 groups 58.4 V: pack sheet.
    per_group = next(one.value for one in GROUP_LIMITS[chemistry] if one.name == "full")
    assert per_group * series == D(full)


def test_a_thirteen_group_pack_is_low_at_about_44_volts() -> None:
    # 54.6 V full and about 44 V low: common practice, no source; hold at 3.00 V per group is 39.0 V.
    limits = resolve(model(Chemistry.NMC, 13, "54.6"), SiteRules())
    assert limits.volts("full").value == D("54.6")
    assert limits.volts("low_hold").value == D("39.00") < 44 < limits.volts("rested_full_pull").value


def test_do_not_charge_is_the_cell_makers_over_discharge_figure() -> None:
    # 2.50 V: pack guideline of the 3.5 Ah cell specification; 13 groups 32.5 V, 10 groups 25.0 V, 14 groups 35.0 V.
    for series, volts in ((10, "25.0"), (13, "32.5"), (14, "35.0")):
        assert resolve(model(Chemistry.NMC, series, "42"), SiteRules()).volts("do_not_charge").value == D(volts)


def test_the_makers_figure_wins_over_the_sites_and_the_sites_over_the_default() -> None:
    site = SiteRules(limit_figures=(("low_hold", D("3.10"), "site"),))
    plain = model(Chemistry.NMC, 10, "42.0")
    assert resolve(plain, SiteRules()).volts("low_hold").value == D("30.0")
    assert resolve(plain, site).volts("low_hold").value == D("31.0")
    stated = replace(plain, limit_figures=(("low_hold", D("3.20"), "maker's sheet"),))
    assert resolve(stated, site).volts("low_hold").value == D("32.0")
    assert resolve(stated, site).volts("low_hold").source == "maker's sheet"


def test_without_a_baseline_there_is_no_resistance_limit() -> None:
    assert resolve(model(Chemistry.NMC, 10, "42.0"), SiteRules()).resistance is None


def test_resistance_limits_are_ratios_to_the_models_baseline() -> None:
    based = replace(model(Chemistry.NMC, 10, "42.0"), baseline_resistance_ohm=D("0.132"), baseline_c=D("25"))
    rule = resolve(based, SiteRules()).resistance
    assert rule is not None
    assert (rule.watch_ohm, rule.pull_ohm, rule.at_c) == (D("0.1716"), D("0.2112"), D("25"))


def test_the_limits_id_changes_exactly_when_the_content_does() -> None:
    plain = model(Chemistry.NMC, 10, "42.0")
    same, other = resolve(plain, SiteRules()), resolve(plain, SiteRules(minimum_rest_minutes=30))
    assert same.limits_id == resolve(replace(plain, price=D("1")), SiteRules()).limits_id
    assert same.limits_id != other.limits_id


@pytest.mark.parametrize("chemistry", list(Chemistry))
def test_every_default_has_a_source_and_the_limits_stand_in_order(chemistry: Chemistry) -> None:
    limits = {one.name: one for one in GROUP_LIMITS[chemistry]}
    assert all(one.source for one in limits.values())
    order = ("implausible_below", "do_not_charge", "low_hold", "rested_full_pull", "rested_full_pass", "full",
             "over_full_query", "over_full_stop")  # fmt: skip
    values = [limits[name].value for name in order]
    assert values == sorted(values)


def test_the_page_of_limits_is_up_to_date() -> None:
    assert (DOCS / "limits.md").read_text("utf-8") == limits_page()
