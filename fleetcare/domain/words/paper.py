"""Words on paper."""

WORDS: dict[str, str] = {
    "paper.as_of": "as of {at}",
    "paper.printed": "printed by {by}, {at}",
    "paper.fingerprint": "fingerprint {fingerprint} records",
    "paper.page": "page {number} of {total}",
    "paper.not_written": "{path} cannot be written: {why}. An older file there is unchanged.",
    "paper.pack_title": "Pack maintenance sheet",
    "paper.board_title": "Board",
    "paper.blank_title": "Check sheet for paper",
    "paper.reason_and_step": "{reason_sentence} {step_sentence}",
    "paper.sheet_number": "Sheet {number}",
    "paper.blank_hint": "Fill in when the PC is down, same order as the screen. Cross a wrong digit out, never over it. Enter it "
    "later under this sheet number, with the time it was done.",
    "paper.blank_safety": "A finding of danger: stop, do not measure, quarantine. Meter on DC volts, leads in COM and V; no rings or watch "
    "(common practice, no source).",
    "paper.initials": "Initials",
    "paper.pack": "Pack",
    "paper.where": "Where",
    "paper.model": "Model",
    "paper.serial": "Serial",
    "paper.cells": "Cells",
    "paper.cells_line": "{chemistry}, {series} groups, full {full_v}",
    "paper.capacity": "Rated",
    "paper.in_service": "In service",
    "paper.notes": "Maker's notes",
    "paper.last_verdict": "Check of {done_at}: {verdict}",
    "paper.checks": "Last checks",
    "paper.more_checks": "The newest {shown} of {of} checks on record.",
    "paper.not_health": "Rested full voltage shows charge level, balance, self-discharge or a charger fault; it does not show "
    "capacity. No health percentage is given from it.",
    "paper.look_heading": "Visual inspection, by hand",
    "paper.all_good": "all looked at and good",
    "paper.nothing_by_hand": "In quarantine nobody measures, tests or handles it here. It is looked at daily from a distance, on its "
    "quarantine sheet.",
    "paper.by_hand": "Rested _______ V   Loaded _______ V at _____ A   Bench ____ °C   Meter ______   Date ___________   Name ________",
    "paper.lacking": "Printed as their numbers, because no font shipped with the program has them: {letters}. The record holds them as "
    "they were typed.",
    "paper.safety_heading": "Safety",
}
