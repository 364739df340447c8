"""What a pack's page and sheet say about its decision."""

from __future__ import annotations

from fleetcare.domain.wording import msg, say
from fleetcare.services.decisions import PackDecision


def decision_words(found: PackDecision | None) -> list[str]:
    """The open question, the decision that answers it, and one that has run out, as sentences."""
    if found is None:
        return []
    told = []
    if found.standing is not None:
        one = found.standing
        told.append(say(msg("decisions.on_page", person=one.person, on_date=one.on_date, what=one.what)))
    if found.question is not None:
        kind = msg(f"decision_kind.{found.question.kind.value}")
        told.append(say(msg("decisions.open_on_page", kind=kind, statement=found.question.statement)))
    if found.ran_out is not None:
        one = found.ran_out
        told.append(say(msg("decisions.ran_out_on_page", person=one.person, on_date=one.on_date, what=one.what)))
    return told
