"""The temperature law against published full-cell models, solved by PyBaMM (the extra "physics"; skipped without it)."""

from __future__ import annotations

import math

import pytest

from fleetcare.domain.temperature import ACTIVATION_J_PER_MOL, ACTIVATION_SPREAD_J_PER_MOL, GAS_CONSTANT, ohm_at

pybamm = pytest.importorskip("pybamm")


def ten_second_ohm(name: str, celsius: float) -> float:
    """Drop over current after ten seconds at the nominal hour's current, from 80 % charge, of a published cell."""
    model = pybamm.lithium_ion.SPMe()
    values = pybamm.ParameterValues(name)
    kelvin = celsius + 273.15
    values.update({"Ambient temperature [K]": kelvin, "Initial temperature [K]": kelvin}, check_already_exists=False)
    current = float(values["Nominal cell capacity [A.h]"])
    values["Current function [A]"] = current
    found = pybamm.Simulation(model, parameter_values=values).solve([0, 10], initial_soc=0.8)
    open_v = found["Battery open-circuit voltage [V]"].entries[0]
    return float((open_v - found["Voltage [V]"].entries[-1]) / current)


@pytest.mark.parametrize("name", ["ORegan2022", "NCA_Kim2011"])
def test_the_activation_law_is_that_of_published_cells(name: str) -> None:
    # O'Regan et al. 2022, doi 10.1016/j.electacta.2022.140700; Kim et al. 2011, doi 10.1149/1.3597614.
    cold, warm = ten_second_ohm(name, 5.0), ten_second_ohm(name, 25.0)
    energy = GAS_CONSTANT * math.log(cold / warm) / (1 / 278.15 - 1 / 298.15)
    assert energy == pytest.approx(ACTIVATION_J_PER_MOL, abs=2 * ACTIVATION_SPREAD_J_PER_MOL)
    assert ohm_at(cold, 5.0, 25.0) == pytest.approx(warm, rel=0.25)


def test_one_law_serves_between_the_benches_of_a_workshop() -> None:
    cold, cool, warm = (ten_second_ohm("ORegan2022", celsius) for celsius in (10.0, 20.0, 30.0))
    per_kelvin = [math.log(cold / cool) / (1 / 283.15 - 1 / 293.15), math.log(cool / warm) / (1 / 293.15 - 1 / 303.15)]
    assert per_kelvin[0] == pytest.approx(per_kelvin[1], rel=0.35)
