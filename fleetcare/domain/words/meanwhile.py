"""Words for two people at one pack."""

WORDS: dict[str, str] = {
    "meanwhile.entry": "Meanwhile {person} saved at {at}: {what}.",
    "meanwhile.check": "check, {rested_v} rested, {verdict}",
    "meanwhile.held": "Both entries are kept. {pack} stays held: a reading releases nothing, a release is a deed of its own.",
}
