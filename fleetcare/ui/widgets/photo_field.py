"""A field for picture files, with a button that looks for them; the bytes are read when the deed is done."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QWidget

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.wording import word
from fleetcare.ui.widgets.cards import Field


class PhotoField(QWidget):
    """`field` is the entry that refusals name; several files are separated by ";"."""

    def __init__(self, field: Field) -> None:
        super().__init__()
        self.field = field
        browse = QPushButton(word("identity.browse"))
        browse.clicked.connect(self._browse)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(field, 1)
        row.addWidget(browse, 0, Qt.AlignmentFlag.AlignBottom)

    def _browse(self) -> None:
        chosen, _ = QFileDialog.getOpenFileNames(self, word("identity.photo"), "", "JPEG, PNG (*.jpg *.jpeg *.png)")
        if chosen:
            self.field.edit.setText("; ".join(chosen))

    def pictures(self) -> tuple[bytes, ...]:
        """The bytes of the named files; EntryRefused beside the field for one that cannot be read."""
        return pictures_of(self.field.text)


def pictures_of(typed: str) -> tuple[bytes, ...]:
    """The bytes of the files named in `typed`, with ";" between; EntryRefused beside "photo" for one that cannot be read."""
    found = []
    for name in filter(None, (part.strip() for part in typed.split(";"))):
        try:
            found.append(Path(name).read_bytes())
        except OSError as error:
            raise EntryRefused(
                "commission.photo_unread", field="photo", file=name, why=error.strerror or str(error)
            ) from None
    return tuple(found)
