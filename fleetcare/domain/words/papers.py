"""Words of the papers screen."""

WORDS: dict[str, str] = {
    "window.papers": "Papers",
    "papers.history": "Maintenance history",
    "papers.code": "Vehicle or pack",
    "papers.from_date": "From (year-month-day)",
    "papers.to_date": "To (year-month-day)",
    "papers.initials": "Only initials for",
    "papers.code_hint": "empty: the whole fleet",
    "papers.initials_hint": "codes of people who left",
    "papers.preview": "Make and preview",
    "papers.save": "Save as PDF …",
    "papers.print": "Print …",
    "papers.export": "Export archive …",
    "papers.cancel": "Stop",
    "papers.previous": "Page back",
    "papers.next": "Page on",
    "papers.page": "page {number} of {total}",
    "papers.nothing": "Nothing made yet. Name a vehicle or a pack and make its history: it is shown here before anything is printed or "
    "saved.",
    "papers.working": "page {pages} …",
    "papers.made": "{title}, {at}. Pages: {pages}, entries: {lines}.",
    "papers.not_a_date": "“{typed}” is not a date. Type year, month and day: 2026-11-02.",
    "papers.no_printer": "No printer is set up on this PC. Set one up in the system's settings, or save as PDF and print elsewhere.",
    "papers.not_printed": "The printer {printer} did not take the pages. Check that it is on and connected, or save as PDF.",
    "papers.printed": "Sent to {printer}.",
    "papers.changed_since": "Something was recorded after this was made; make it again to include it.",
}
