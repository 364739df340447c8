"""Names and labels that every screen, sheet and command shares."""

WORDS: dict[str, str] = {
    "program.title": "Fleet battery care",
    "program.demo": "DEMO",
    "safety.fire_line": "Smoke, hiss or rising heat: leave, raise the alarm, call the fire service.",
    "safety.fire_source": "[fire services' public advice]",
    "safety.defer": "Local codes, the pack maker's instructions and licensed practice come first.",
}
