"""Words on charts."""

WORDS: dict[str, str] = {
    "chart.empty": "no reading yet",
    "chart.today": "as of",
    "chart.limit": "limit",
    "chart.left_out": "not used",
}
