"""Readings that do not fit, and the reasons behind a projection."""

_BLANK = "_ _ . _ _ V".replace(" ", "\N{NO-BREAK SPACE}")
"""Volts to be filled in by hand; never broken over two lines."""

WORDS: dict[str, str] = {
    "suspect.value_v": "{read_v}",
    "suspect.value_ohm": "{read_ohm}",
    "suspect.do_far_off": "If it reads above full: do not charge, hold it apart, read it with a second meter. Else charge fully, rest an "
    "hour, read again with the same meter.",
    "suspect.do_far_off_ohm": "Clean the contacts, then repeat rested and loaded with the same meter and load.",
    "suspect.do_far_off_no_bench": "Its bench temperature was not noted, and resistance rises in the cold: clean the contacts, then repeat "
    "rested and loaded with the same meter and load, and note the temperature.",
    "suspect.do_far_off_ohm_low": "Too low, which dirt never makes: was the load really on, the pack full and rested, its label right? "
    "Repeat rested and loaded with the same meter and load.",
    "suspect.do_far_off_no_bench_low": "Too low, which dirt never makes, and its bench temperature was not noted: was the load really on, "
    "the pack full and rested, its label right? Repeat rested and loaded with the same meter and load, and note the temperature.",
    "suspect.both": "{why}; the resistance of that visit, {value}, does not fit either",
    "suspect.do_wake": "Prove the meter on a known source, wake the pack on a known-good vehicle or its own charger, attended, and "
    "read the same contacts within a minute. If it was laid up or unseen for 30 days, do not put it on a charger.",
    "suspect.do_not_this_pack": "Look at the label first. If it reads above full: do not charge, hold it apart, read it with a second "
    "meter. Else charge fully, rest an hour, read again.",
    "suspect.do_swapped": "Correct the entry: loaded can never be above rested. If it is not a slip, measure again.",
    "suspect.do_stored": "Read it again in its place, with the same meter, at about the same temperature.",
    "suspect.open": "Measure again ({count}): {what}",
    "suspect.one": "{quantity} {value} of {done_at}: {why}. {what_to_do}",
    "suspect.none": "Every reading of the last {window_days} fits its pack, or was measured again since.",
    "suspect.some": "Readings that do not fit their pack: {count}. They are kept, and take no part in a projection until one that fits is read, unless "
    "said so.",
    "suspect.meter": "Meter {meter} {why}. {what_to_do}",
    "suspect.meter_below": "reads {off_v} below the middle of the fleet's meters on the same packs and others of their models; its maker allows {allowed_v}",
    "suspect.meter_above": "reads {off_v} above the middle of the fleet's meters on the same packs and others of their models; its maker allows {allowed_v}",
    "suspect.meter_below_assumed": "reads {off_v} below the middle of the file's meters on the same packs and others of their models; a usual meter, ± (0.5 % + 2 digits), "
    "may be {allowed_v} off",
    "suspect.meter_above_assumed": "reads {off_v} above the middle of the file's meters on the same packs and others of their models; a usual meter, ± (0.5 % + 2 digits), "
    "may be {allowed_v} off",
    "suspect.meters_apart_assumed": "read {off_v} apart on the same packs; two usual meters, ± (0.5 % + 2 digits), may be {allowed_v} apart: "
    "one of the two is off",
    "suspect.meters_apart": "read {off_v} apart on the same packs; their makers allow {allowed_v} together: one of the two is off",
    "suspect.prove_meter": "Prove {meter} on a known source before it is used again.",
    "suspect.prove_both": "Prove both on a known source before they are used again.",
    "suspect.meters": "Meters in question: {count}. They are listed under Measure again.",
    "suspect.reading": "Reading",
    "suspect.blank_v": _BLANK,
    "suspect.blank_ohm": f"rested {_BLANK}, loaded {_BLANK}",
    "suspect.now": "Now reads",
    "suspect.sheet_heading": "Measure again: {count}",
    "suspect.why": "Why",
    "suspect.do": "What to do",
    "screen.projecting": "Projecting …",
    "why.tab": "Why",
    "why.used": "used",
    "why.left_short": "not used",
    "why.read": "As read",
    "why.reading": "Corrected",
    "why.state": "State",
    "why.told": "Why / what to do",
    "why.counts": "Readings used: {used}. Not used: {left}.",
    "why.counts_all": "Readings used: {used}. None left out.",
    "why.level_ohm": "Level {level_ohm}, slope {change_ohm} in 30 days.",
    "why.bends": "The slope is that of the next {window_days}. At it alone the limit would be reached around {alone_month}; the likely month is "
    "earlier, since packs decline faster as they go on, or begin to slide.",
    "why.bends_far": "The slope is that of the next {window_days}. At it alone the limit would not be reached within ten years; the likely month "
    "is earlier, since packs decline faster as they go on, or begin to slide.",
    "why.level_v": "Level {level_v}, slope {change_v} in 30 days.",
    "why.limit_ohm": "Limit {limit_ohm}: {source}.",
    "why.limit_v": "Limit {limit_v}: {source}.",
    "why.pull_limit": "the pull limit that verdicts use",
    "why.pull_limit_from": "the pull limit that verdicts use ({source})",
    "why.storage_limit": "the low end of the maker's storage band",
    "why.needs_loaded": "What would change it: a loaded reading with each check. {have} of the last {of} checks had one.",
    "why.needs_temperature": "What would change it: the bench temperature. It is not known for {count} of the readings used.",
    "why.needs_more": "What would change it: {count} more checks like these, a week apart.",
    "why.needs_loaded_more": "What would change it: {count} more checks with a loaded reading, same load, bench temperature noted.",
    "why.remeasure": "What would change it: measuring again what does not fit ({count}).",
    "why.one_meter": "All readings are by one meter ({meter}): a drift of that meter would look like a change of the pack.",
    "why.as_of": "Only what had been recorded by {at} is used.",
}
