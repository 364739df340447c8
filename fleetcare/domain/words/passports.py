"""Words of the passport that a pack carries by law."""

WORDS: dict[str, str] = {
    "passport.heading": "EU battery passport",
    "passport.pack": "Pack",
    "passport.text": "Text of the QR code on it (optional)",
    "passport.keep": "Keep with the pack",
    "passport.on_paper": "EU passport",
    "passport.kept": "the passport text is kept with {pack}",
    "passport.not_text": "That is not the text of a QR code: {have} signs, {most} fit, in one line without control signs.",
    "passport.nothing_new": "That is what is kept with {pack} already.",
    "passport.twin": "{pack} carries this passport already, and a passport belongs to one pack. Look at both packs; if their labels agree "
    "too, report a second pack with this label.",
}
