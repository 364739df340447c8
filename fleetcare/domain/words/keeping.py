"""Sentences about keeping records: backups, restores, exports."""

WORDS: dict[str, str] = {
    "window.keeping": "Keeping",
    "keeping.sign_in_first": "Sign in first; every import and every restore names who did it.",
}
