"""Words of the job sheet of a trip and its reset."""

WORDS: dict[str, str] = {
    "sheet.trip": "Job sheet: trip and reset",
    "sheet.trip_where": "in {vehicle}",
    "sheet.trip_known": "On record",
    "sheet.trip_none": "No trip in the window that counts.",
    "sheet.trip_charger": "Last charger",
    "sheet.trip_cause": "Cause",
    "sheet.trip_reset": "Reset",
    "sheet.trip_was_reset": "was reset",
    "sheet.trip_not_reset": "no reset on record",
    "sheet.trip_now": "This trip",
    "sheet.trip_when": "Date ____________   Time ________   Where ______________________   Vehicle __________   Pack °C ______",
    "sheet.trip_story": "What happened",
    "sheet.trip_explained": "Explained □ yes □ no, because ___________________________   Last charger ____________   at ____________",
    "sheet.trip_mended": "Second trip in the window: mended, or different this time ____________________________________________",
    "sheet.trip_maker": "The maker's way of resetting: {reset}   Waking: {wake}",
    "sheet.trip_result": "Reset □ done □ not allowed □ did not hold      Tripped again □ at once □ later □ no",
}
