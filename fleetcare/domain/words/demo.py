"""Sentences about the demonstration fleet."""

WORDS: dict[str, str] = {
    "demo.making": "Making the demonstration fleet as of today …",
    "demo.rows": "… {done} of {of} entries",
    "demo.notice": "This is an invented demonstration fleet. Nothing in it is real.",
}
