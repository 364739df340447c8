"""A choice among the parts in stock, with how many lie on the shelf."""

from __future__ import annotations

from fleetcare.domain.spare_parts import PartKind
from fleetcare.domain.wording import word
from fleetcare.services.session import Clock
from fleetcare.services.stock import stock
from fleetcare.store.store import Store
from fleetcare.ui.widgets.deed_page import Choice


class StockChoice(Choice):
    """The first entry is "not from the stock"."""

    def __init__(self, *kinds: PartKind) -> None:
        super().__init__(word("parts.from_stock"), "parts", ())
        self._kinds = kinds
        self.box.addItem(word("parts.not_stock"), "")

    def offer(self, store: Store, clock: Clock) -> None:
        """Read the stock again; what was chosen stays chosen."""
        kept = self.code
        self.box.clear()
        self.box.addItem(word("parts.not_stock"), "")
        for one in stock(store, clock):
            if one.part.kind in self._kinds:
                self.box.addItem(f"{one.part.code} {one.part.name}, {one.part.part_number} ({one.have})", one.part.code)
        self.box.setCurrentIndex(max(self.box.findData(kept), 0))

    @property
    def code(self) -> str:
        """The chosen part's code, or ""."""
        return str(self.box.currentData() or "")

    def reset(self) -> None:
        """Not from the stock."""
        self.box.setCurrentIndex(0)
