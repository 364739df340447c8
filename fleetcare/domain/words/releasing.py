"""Words of inspections and of what a release asks for."""

WORDS: dict[str, str] = {
    "inspection.not_this": "{code} is no vehicle, charger or meter; a pack is inspected at the bench.",
    "inspection.needs_what": "Say what was looked at and done.",
    "inspection.found": "inspection: {what}",
    "inspection.good": "good",
    "inspection.bad": "not good",
    "inspection.heading": "Inspection of what is held (vehicle, charger, meter)",
    "inspection.ask": "Inspection of {subject}",
    "inspection.looked_at": "What was looked at and done",
    "inspection.authority": "After a danger: maker's agent or licensed repairer, and paper",
    "inspection.do_good": "Inspected: good",
    "inspection.do_bad": "Inspected: not good",
    "inspection.button": "Inspect …",
    "record.inspected": "Inspection of {subject} kept: good. A hold is ended by a release, a deed of its own.",
    "record.inspected_bad": "Inspection of {subject} kept: not good. It stays held.",
    "event.inspected": "{subject} inspected, good: {what}",
    "event.inspected_bad": "{subject} inspected, not good: {what}",
    "event.inspected_by": "{subject} inspected, good: {what}; found fit by {authority}",
    "allow.no_proof": "{person} has neither badge nor PIN on record, so nobody can see who did this. Set a PIN first (Identity, People).",
    "release.no_inspection": "{subject} was held on {since_date} and nobody has inspected it since. Note an inspection first, then "
    "release.",
    "release.inspection_bad": "The last inspection of {subject} was not good. Mend it, inspect it again, then release.",
    "release.no_output": "{subject} has no good output test since {since_date}. Measure its output first, then release.",
    "release.no_proof": "{subject} has no good proof against a reference since {since_date}. Prove it first, then release.",
    "release.danger_thing": "{subject} is held for danger. It is released only after the maker's agent or a licensed repairer found it fit: "
    "note the inspection with their name and paper first. There is no other way.",
}
