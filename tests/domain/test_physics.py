"""Temperature law, plateau, early charge ends and relaxation against published full-cell models, solved by PyBaMM (the
extra "physics"; skipped without it)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetcare.domain.projection.preparation import (
    PRIOR,
    PRIOR_SPREAD,
    REFERENCE_REST_MINUTES,
    RELAXATION_MINUTES,
)
from fleetcare.domain.self_discharge import PLATEAU_V
from fleetcare.domain.temperature import ACTIVATION_J_PER_MOL, ACTIVATION_SPREAD_J_PER_MOL, GAS_CONSTANT, ohm_at

pybamm = pytest.importorskip("pybamm")


def ten_second_ohm(name: str, celsius: float, charge: float = 0.8) -> float:
    """Drop over current after ten seconds at the nominal hour's current, from a share of the charge, of a published cell."""
    model = pybamm.lithium_ion.SPMe()
    values = pybamm.ParameterValues(name)
    kelvin = celsius + 273.15
    values.update({"Ambient temperature [K]": kelvin, "Initial temperature [K]": kelvin}, check_already_exists=False)
    current = float(values["Nominal cell capacity [A.h]"])
    values["Current function [A]"] = current
    found = pybamm.Simulation(model, parameter_values=values).solve([0, 10], initial_soc=charge)
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


def rested_v(name: str, charge: float) -> float:
    """Volts of one published cell at rest, at a share of its charge."""
    values = pybamm.ParameterValues(name)
    values["Current function [A]"] = 1e-6
    found = pybamm.Simulation(pybamm.lithium_ion.SPM(), parameter_values=values).solve([0, 1], initial_soc=charge)
    return float(found["Battery open-circuit voltage [V]"].entries[0])


def test_volts_of_lfp_say_little_on_the_plateau_that_is_refused() -> None:
    # Prada et al. 2013, doi 10.1149/2.053304jes, against the two other chemistries above.
    low, high = rested_v("Prada2013", 0.4), rested_v("Prada2013", 0.7)
    assert PLATEAU_V[0] <= low < high <= PLATEAU_V[1]
    for name in ("ORegan2022", "NCA_Kim2011"):
        assert rested_v(name, 0.7) - rested_v(name, 0.4) > 8 * (high - low)
    assert all(PLATEAU_V[0] <= rested_v("Prada2013", share) <= PLATEAU_V[1] for share in (0.3, 0.5, 0.8, 0.95))


@pytest.mark.parametrize("name", ["ORegan2022", "NCA_Kim2011"])
def test_a_charge_that_stopped_early_moves_rested_volts_and_hardly_the_resistance(name: str) -> None:
    early, full = ten_second_ohm(name, 25.0, 0.8), ten_second_ohm(name, 25.0, 0.95)
    assert full == pytest.approx(early, rel=0.12)
    assert rested_v(name, 0.95) - rested_v(name, 0.8) > 0.1  # volts a group: twenty times what a meter's digit shows


def test_relaxation_after_a_charge_lies_within_its_prior() -> None:
    # O'Regan et al. 2022 and Chen et al. 2020 (doi 10.1149/1945-7111/ab9050), charged to 4.2 V and C/20, then at rest.
    for name in ("ORegan2022", "Chen2020"):
        steps = (
            "Discharge at C/3 until 3.3 V", "Rest for 1 hour", "Charge at C/3 until 4.2 V", "Hold at 4.2 V until C/20",
            "Rest for 2 hours (1 minute period)",
        )  # fmt: skip
        values = pybamm.ParameterValues(name)
        solved = pybamm.Simulation(
            pybamm.lithium_ion.DFN(), parameter_values=values, experiment=pybamm.Experiment([steps])
        ).solve()
        rest = solved.cycles[0].steps[-1]
        minutes, volts = rest["Time [min]"].entries - rest["Time [min]"].entries[0], rest["Voltage [V]"].entries
        for after in (10, 15, 30, 120):
            above = float(np.interp(after, minutes, volts) - np.interp(REFERENCE_REST_MINUTES, minutes, volts))
            left = math.exp(-math.sqrt(after / RELAXATION_MINUTES))
            share = left - math.exp(-math.sqrt(REFERENCE_REST_MINUTES / RELAXATION_MINUTES))
            assert abs(above - PRIOR[2] / 13 * share) <= 2 * PRIOR_SPREAD[2] / 13 * abs(share)
