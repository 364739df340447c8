"""One sentence for each kind of record, as histories print it."""

WORDS: dict[str, str] = {
    "event.trip_explained": "{pack} tripped in {vehicle}: {cause}, explained",
    "event.trip_unexplained": "{pack} tripped in {vehicle}: {cause}, not explained",
    "event.grounded": "{subject} grounded ({hold_class}): {reason}",
    "event.held": "{subject} held ({hold_class}): {reason}",
    "event.released": "released: {reason}",
    "event.released_from": "released from the hold of {held_at}: {reason}",
    "event.released_several_stand": "{told}; the holds of {held_at} still stood",
    "event.released_stands": "{told}; the hold of {held_at} still stood",
    "event.whereabouts_unknown": "{pack}: whereabouts not known",
    "event.found_on_shelf": "{pack} on shelf {shelf}",
    "event.found_on_van": "{pack} on van list {shelf}",
    "event.found_in": "{pack} found in {vehicle}, bay {bay}",
    "event.look_over": "{pack} visual inspection: {found}",
    "event.look_over_good": "{pack} visual inspection: all good",
    "event.check_voided": "a check was taken back: {reason}",
    "event.check_corrected": "a check was corrected: {reason}",
    "event.thing": "{what} {code} recorded",
    "event.told": "{what}: {statement}",
    "event.other": "entry of kind {kind}",
}
