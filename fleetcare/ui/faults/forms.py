"""The forms of the faults screen: pages of deeds under the name its pages know them by."""

from __future__ import annotations

from fleetcare.ui.widgets.deed_page import Choice, abreast, line, tick
from fleetcare.ui.widgets.deed_page import DeedPage as FaultPage

__all__ = ["Choice", "FaultPage", "abreast", "line", "tick"]
