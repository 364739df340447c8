"""What became of a check that somebody else corrected meanwhile."""

from __future__ import annotations

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.records import CheckCorrected
from fleetcare.store.values import StoredCheck
from fleetcare.store.view import Reader


class CorrectedMeanwhile(EntryRefused):
    """Somebody else corrected or struck this check; what stands in its place can be corrected in its turn."""


def corrected_meanwhile(view: Reader, first: StoredCheck) -> CorrectedMeanwhile:
    """Says who corrected this check, when and why, and what stands in its place now."""
    assert first.void_position is not None
    made = view.record_at(first.void_position)
    if made is None or not isinstance(made.body, CheckCorrected):  # struck with the import it came from
        return CorrectedMeanwhile("correct.already", record=first.record_id)
    person = view.people().get(made.by)
    name, why, at = person.name if person else made.by, made.body.reason, view.local(made.entered_at)
    if made.body.judged is None:
        return CorrectedMeanwhile("correct.already_void", person=name, at=at, why=why)
    check = made.body.judged.check
    if check.loaded_v is None:
        return CorrectedMeanwhile("correct.already_by", rested_v=check.rested_v, person=name, at=at, why=why)
    return CorrectedMeanwhile(
        "correct.already_by_loaded", rested_v=check.rested_v, loaded_v=check.loaded_v, person=name, at=at, why=why
    )


def stands_in_place(view: Reader, of: str) -> StoredCheck | None:
    """The check that stands where record `of` stood: itself, the last correction of it, or None where it was struck."""
    stored = view.check(of)
    while stored is not None and stored.void_position is not None:
        made = view.record_at(stored.void_position)
        corrected = made is not None and isinstance(made.body, CheckCorrected) and made.body.judged is not None
        stored = view.check(made.record_id) if made is not None and corrected else None
    return stored
