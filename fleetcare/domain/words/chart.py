"""Words on charts."""

WORDS: dict[str, str] = {
    "chart.empty": "no reading yet",
    "chart.today": "as of {on_date}",
    "chart.limit": "limit",
    "chart.watch": "watch",
    "chart.above": "{what}, above this chart",
    "chart.below": "{what}, below this chart",
    "chart.band": "80 % range",
    "chart.middle": "middle",
    "chart.open": "open end",
    "chart.likely": "likely",
    "chart.crossing": "80 %: {early_date} to {until}",
    "chart.storage_limit": "low end of storage",
    "chart.left_out": "not used",
}
