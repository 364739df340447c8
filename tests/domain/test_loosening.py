"""Which change of a setting makes it easier to meet."""

from dataclasses import fields, replace
from decimal import Decimal

import pytest

from fleetcare.domain.loosening import HIGHER_IS_LOOSER, LOWER_IS_LOOSER, NONE_IS_LOOSER, changes
from fleetcare.domain.packs import Chemistry, PackModel, SiteRules

D = Decimal
SITE = SiteRules()
MODEL = PackModel("K", "K", Chemistry.NMC, 10, 36, D("42"), D("14"), "K2")


@pytest.mark.parametrize(("change", "loosened"), [
    ({"check_due_days": 8}, True), ({"check_due_days": 6}, False), ({"minimum_rest_minutes": 30}, True),
    ({"minimum_rest_minutes": 90}, False), ({"trips_any_pull": 4}, True), ({"trip_window_days": 20}, True),
    ({"loaded_minimum_c": D("5")}, True), ({"resistance_pull_ratio": D("1.5")}, False),
    ({"extension_allowed": True}, True), ({"edge_near_days": 1}, True), ({"resistance_watch_ohm": D("0.3")}, None), ({"rules_followed": "UK"}, None),
])  # fmt: skip
def test_each_setting_has_its_direction(change: dict[str, object], loosened: bool | None) -> None:
    (found,) = changes(SITE, replace(SITE, **change))  # type: ignore[arg-type]
    assert found.loosened is loosened and {found.name} == set(change)


def test_figures_of_the_maker_bind_from_below_and_over_full_from_above() -> None:
    before = replace(
        MODEL, limit_figures=(("rested_full_pull", D("4.0"), "maker"), ("over_full_stop", D("4.25"), "maker"))
    )
    after = replace(
        MODEL, limit_figures=(("rested_full_pull", D("3.9"), "maker"), ("over_full_stop", D("4.3"), "maker"))
    )
    assert [one.loosened for one in changes(before, after)] == [True, True]
    assert [one.loosened for one in changes(after, before)] == [False, False]
    assert [one.loosened for one in changes(MODEL, after)] == [None, None], (
        "a new figure has nothing to be compared with"
    )
    assert list(changes(SITE, replace(SITE, sources=(("check_due_days", "insurer"),)))) == []


def test_taking_away_a_figure_without_which_nothing_is_asked_is_looser() -> None:
    for name in NONE_IS_LOOSER:
        told = replace(MODEL, **{name: D("0.1")})  # type: ignore[arg-type]
        assert [one.loosened for one in changes(told, MODEL)] == [True], name
        assert [one.loosened for one in changes(MODEL, told)] == [False], name


def test_the_named_settings_are_on_record_things() -> None:
    known = {field.name for cls in (SiteRules, PackModel) for field in fields(cls)}
    assert known >= HIGHER_IS_LOOSER | LOWER_IS_LOOSER | NONE_IS_LOOSER and not HIGHER_IS_LOOSER & LOWER_IS_LOOSER
