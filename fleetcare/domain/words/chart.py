"""Words on charts."""

WORDS: dict[str, str] = {
    "chart.empty": "no reading yet",
    "chart.today": "as of",
    "chart.limit": "limit",
    "chart.open": "open end",
    "chart.crossing": "80 %: {early_date} to {until}",
    "chart.storage_limit": "low end of storage",
    "chart.left_out": "not used",
}
