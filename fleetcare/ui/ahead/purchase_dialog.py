"""Purchase and warranty of one pack, copied from its invoice."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import word
from fleetcare.services import warranty
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog
from fleetcare.ui.widgets.forms import code_field

NAMES = ("bought_on", "months", "clause", "invoice", "price")


def ask_purchase(parent: QWidget, app: App, session: Session, changes: Changes, code: str) -> bool:
    """Ask for the purchase facts of a pack, filled with what is on record; True when they were recorded."""
    pack_field = code_field(word("window.pack"))
    pack_field.setObjectName("pack")
    pack_field.edit.setText(code)
    fields = {name: Field(word(f"warranty.field_{name}")) for name in NAMES}
    for name, field in fields.items():
        field.setObjectName(name)

    def fill() -> None:
        with app.store.view() as view:
            pack = view.thing("pack", pack_field.text.strip().upper())
        if pack is None:
            return
        known = (pack.bought_on, pack.warranty_months, pack.warranty_clause, pack.invoice, pack.price_paid)
        for field, value in zip(fields.values(), known, strict=True):
            field.edit.setText("" if value is None else str(value))

    def deed() -> None:
        author = session.author(changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        done = warranty.record_purchase(
            app.store, app.clock, author, pack_field.text.strip().upper(),
            **{name: field.text for name, field in fields.items()},
        )  # fmt: skip
        changes.tell(done)

    pack_field.edit.editingFinished.connect(fill)
    fill()
    dialog = AskDialog(parent, word("warranty.edit_title"), (pack_field, *fields.values()), word("warranty.save"), deed)
    return bool(dialog.exec())
