"""Sentences of the projection: a range and the number of readings, or the reason why there is none."""

_RANGE = "80 % range; a projection, not a measurement"

WORDS: dict[str, str] = {
    "projection.too_few": "not enough comparable checks ({have} of {need})",
    "projection.too_short": "the comparable checks lie on too few days to draw a line",
    "projection.no_limit": "no limit is set for this quantity",
    "projection.no_baseline": "no resistance limit: no baseline is recorded for this pack model yet",
    "projection.no_decline_ohm": "No decline seen in {count} comparable checks: last reading {last_ohm}, limit {limit_ohm}.",
    "projection.no_decline_v": "No decline seen in {count} comparable checks: last reading {last_v}, limit {limit_v}.",
    "projection.beyond_ohm": "Last reading {last_ohm}, line {level_ohm}: the limit of {limit_ohm} is reached ({count} comparable checks).",
    "projection.beyond_v": "Last reading {last_v}, line {level_v}: the limit of {limit_v} is reached ({count} comparable checks).",
    "projection.not_within_ohm": "Last reading {last_ohm}, line {level_ohm}, {change_ohm} in 30 days; {limit_ohm} is not reached within three years "
    "({count} comparable checks).",
    "projection.not_within_v": "Last reading {last_v}, line {level_v}, {change_v} in 30 days; {limit_v} is not reached within three years "
    "({count} comparable checks).",
    "projection.range_ohm": "Last reading {last_ohm}, line {level_ohm}, {change_ohm} in 30 days; reaches {limit_ohm} between {early_date} and "
    "{late_date} (" + _RANGE + "; {count} comparable checks).",
    "projection.range_v": "Last reading {last_v}, line {level_v}, {change_v} in 30 days; reaches {limit_v} between {early_date} and {late_date} ("
    + _RANGE
    + "; {count} comparable checks).",
    "projection.open_ohm": "Last reading {last_ohm}, line {level_ohm}, {change_ohm} in 30 days; reaches {limit_ohm} not before {early_date}, with an "
    "open end (" + _RANGE + "; {count} comparable checks).",
    "projection.open_v": "Last reading {last_v}, line {level_v}, {change_v} in 30 days; reaches {limit_v} not before {early_date}, with an open end ("
    + _RANGE
    + "; {count} comparable checks).",
    "projection.other_kind": "another kind of check",
    "projection.other_rest": "another rest",
    "projection.other_meter": "another meter",
    "projection.other_load": "another load",
    "projection.corrected": "corrected or taken back",
    "projection.rest_too_short": "rest too short",
    "projection.no_loaded": "no loaded reading",
    "projection.no_temperature": "bench temperature unknown",
    "projection.too_cold": "bench too cold for a loaded test",
    "projection.file_column": "{file}: column {column} is missing",
    "projection.file_row": "{file}, row {row}: {column} “{typed}” is not usable",
    "projection.file_unreadable": "{file} cannot be read: {why}",
    "projection.bad_date": "“{typed}” is not a date; write it as YYYY-MM-DD",
    "projection.bad_horizons": "“{typed}” are not horizons; write whole days above zero, such as 28,91,182",
    "projection.unknown_model": "{file}, row {row}: model “{typed}” is not in the models file",
}
