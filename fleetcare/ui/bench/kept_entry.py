"""An entry set aside: what one person typed and did not save, while another is at the bench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QAbstractButton

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.identity import ReadTwice
from fleetcare.domain.packs import Pack, Vehicle

if TYPE_CHECKING:
    from fleetcare.ui.bench.bench_screen import BenchScreen
    from fleetcare.ui.widgets.cards import Field


@dataclass(frozen=True, slots=True)
class KeptEntry:
    """Everything on the work page, as typed."""

    vehicle: Vehicle | None
    pack: Pack
    moves: tuple[FoundIn, ...]
    repeats: tuple[ReadTwice, ...]
    seen: int | None
    texts: tuple[str, ...]
    pressed: tuple[bool, ...]
    all_good: bool
    kind: int


def set_aside(bench: BenchScreen) -> KeptEntry | None:
    """What is on the work page, or None when no pack is at work."""
    work, pack = bench.work, bench.pack_at_work
    if pack is None:
        return None
    good = work.look.found is not None and not work.look.found
    return KeptEntry(
        bench.vehicle_at_work, pack, bench.moves, bench.repeats, bench.seen, tuple(f.text for f in _fields(bench)),
        tuple(b.isChecked() for b in _buttons(bench)), good, work.kind.currentIndex(),
    )  # fmt: skip


def bring_back(bench: BenchScreen, kept: KeptEntry) -> None:
    """Put a kept entry on the work page again; an inspection that was done stays done."""
    bench.take_up(kept.vehicle, kept.pack, kept.moves, kept.repeats, kept.seen)
    for field, text in zip(_fields(bench), kept.texts, strict=True):
        field.edit.setText(text)
    if kept.all_good:
        bench.work.look.press_good()
    for button, pressed in zip(_buttons(bench), kept.pressed, strict=True):
        button.setChecked(pressed)
    bench.work.kind.setCurrentIndex(kept.kind)
    bench.preview()


def _fields(bench: BenchScreen) -> tuple[Field, ...]:
    work = bench.work
    return work.rested, work.loaded, work.amps, work.remark


def _buttons(bench: BenchScreen) -> tuple[QAbstractButton, ...]:
    return (*bench.work.look.boxes.values(), *bench.work.rest.buttons)
