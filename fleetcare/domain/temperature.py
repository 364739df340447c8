"""How the loaded resistance of a pack changes with temperature: an activation law."""

from __future__ import annotations

import math

ACTIVATION_J_PER_MOL = 18_000.0
ACTIVATION_SPREAD_J_PER_MOL = 5_000.0
"""13 to 23 kJ/mol covers published NMC and NCA cell models at 10 s pulses
(doi 10.1149/1945-7111/ab9050, 10.1016/j.electacta.2022.140700, 10.1149/1.3597614)."""

GAS_CONSTANT = 8.314462618
"""J/(mol K), CODATA 2018."""


def _inverse(bench_c: float, at_c: float) -> float:
    return (1 / (bench_c + 273.15) - 1 / (at_c + 273.15)) / GAS_CONSTANT


def ohm_at(ohm: float, bench_c: float, at_c: float) -> float:
    """The resistance that `ohm`, measured at `bench_c`, would be at `at_c` (°C)."""
    return ohm * math.exp(-ACTIVATION_J_PER_MOL * _inverse(bench_c, at_c))


def law_uncertainty(bench_c: float, at_c: float) -> float:
    """Relative standard uncertainty that the law itself adds between the two temperatures."""
    return ACTIVATION_SPREAD_J_PER_MOL * abs(_inverse(bench_c, at_c)) / math.sqrt(3)
