"""The forms of the faults screen: pages of deeds under the name its pages know them by."""

from __future__ import annotations

from fleetcare.ui.widgets.deed_page import LARGE_POINTS, Choice, abreast, large_text, line, tick
from fleetcare.ui.widgets.deed_page import DeedPage as FaultPage

__all__ = ["LARGE_POINTS", "Choice", "FaultPage", "abreast", "large_text", "line", "tick"]
