"""Sentences of the command line."""

WORDS: dict[str, str] = {
    "cli.reached": "reached",
    "cli.project_needs": "With a file of checks, {option} is needed too: fleetcare project CHECKS.csv --models MODELS.csv "
    "--as-of YYYY-MM-DD --horizons 28,91,182 --output OUT.csv",
    "cli.packs_done": "… {done} of {of} packs",
    "cli.file_suspects": "Readings that do not fit their pack: {count}. They are listed in {path}.",
    "cli.file_suspects_where": "Readings that do not fit their pack: {count}. Add --suspects FILE for the list of them.",
    "cli.projected": "{count_packs} projected; written to {path}",
    "cli.demo_window": "Opening the window on the demonstration fleet …",
    "cli.worst_heading": "Packs that reach a limit soonest:",
    "cli.fleet_at": "Demonstration fleet: {path}",
    "cli.sheet_at": "Maintenance sheet:   {path}",
    "cli.board_at": "Board for the wall:  {path}",
    "cli.founded": "{path} founded. First person: {person}. Open it with: fleetcare window {path}",
    "cli.map": "“{typed}” is no mapping; write FIELD=HEADING, such as rested_v=Volts",
    "cli.questioned": "{question} Nothing was saved. Measure again; when it is right, add --sure.",
    "cli.next_step": "Next: {step}",
    "cli.next_due": "Next check due {due_date}.",
    "cli.choose": "{option} {typed} is not known; choose one of {kinds}",
    "cli.sheet_needs": "Name a pack, or --board, or --blank N.",
    "cli.written": "Written: {path}",
}
