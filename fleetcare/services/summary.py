"""The one read model: what board, pack page, sheet and command line show.

Screen and paper cannot disagree, because both are drawn from these values.
"""

from __future__ import annotations

from fleetcare.services.shown import (  # noqa: F401
    CheckLine,
    EventLine,
    Comparison,
    PackSummary,
    Offer,
    VehicleSummary,
    FleetSummary,
    RoundLine,
    PackRow,
    VehiclePage,
)
