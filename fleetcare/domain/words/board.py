"""The board: tiles, lists beside them, and who is at work."""

WORDS: dict[str, str] = {
    "board.at_work_noted": "Noted: {count} at work.",
    "board.at_work_event": "at work on {day_date}: {people}",
    "board.nobody": "nobody",
}
