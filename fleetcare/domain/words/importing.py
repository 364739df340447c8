"""Sentences of imports."""

WORDS: dict[str, str] = {
    "import.unreadable": "{path} cannot be read: {why}",
    "import.unknown_field": "{field_name} is not a field of a check. Fields: {fields}.",
    "import.no_column": "{path} has no column “{column}”. Its columns: {columns}.",
    "import.needed_column": "{path} has no column for {field_name}. Its columns: {columns}. Name it with --map "
    "{field_name}=HEADING.",
    "import.empty_row": "the row is empty",
    "import.kind": "“{typed}” is no kind of check; known are {kinds}",
    "import.seconds": "“{typed}” are no whole seconds",
    "import.rest": "“{typed}” is no rest; write minutes in a column headed rest_minutes, or one of {bands}",
    "import.moment": "“{typed}” is no date and time; write 2026-11-02 or 2026-11-02T06:30",
    "import.asked": "{question} A file cannot answer; mend the row and import it again.",
    "import.done": "{taken} checks taken, {refused} rows refused, {known} known already.",
    "import.report": "{file}: {rows} rows = {taken} taken + {refused} refused + {known} known already.",
    "import.row": "{file}, row {row}: {reason}",
    "import.taken_back": "The import was taken back; its rows stay on record, struck through.",
    "describe.unknown_table": "The file has a table “{table}”, which is no class of things. Known: {tables}.",
    "describe.unknown_key": "{code}: a {what} has no “{attribute}”.",
    "describe.missing": "{code}: the {what} is not complete: {why}",
    "describe.value": "{code}: “{typed}” cannot be its {attribute}.",
    "describe.loose": "{code}: its {attribute} {other} is not on record and not in the file.",
    "import.measured_number": "a figure in this row is no number, or out of all bounds",
    "import.suspect": "the source notes this reading as suspect",
    "import.measured_column": "{path} has no column “{column}”; a measured history needs {columns}.",
    "import.measured_series": "{typed} is no series count; type a whole number from 1 to 30.",
}
