"""Sentences of the projection: a range and the number of readings, or the reason why there is none."""

_RANGE = "a projection, not a measurement"

WORDS: dict[str, str] = {
    "projection.too_few": "not enough comparable checks ({have} of {need})",
    "projection.disagrees": "not projected: too little is known of this fleet yet, the fitted level leaves this pack's own {count} readings",
    "projection.vague": "not projected: too few packs of this fleet were read often enough to tell from this pack's own {count} "
    "readings how it will go on",
    "projection.no_baseline": "no resistance limit: no baseline is recorded for this pack model yet",
    "projection.no_decline_ohm": "No decline seen in {count} comparable checks: last reading {last}, level {level_ohm}, limit {limit_ohm}.",
    "projection.no_decline_v": "No decline seen in {count} comparable checks: last reading {last}, level {level_v}, limit {limit_v}.",
    "projection.no_decline_open_ohm": "No decline seen in {count} comparable checks: last reading {last}, level {level_ohm}; {limit_ohm} is reached "
    "not before {early_date}, with an open end (80 % range).",
    "projection.no_decline_open_v": "No decline seen in {count} comparable checks: last reading {last}, level {level_v}; {limit_v} is reached "
    "not before {early_date}, with an open end (80 % range).",
    "projection.last_of": "of {read_date}: {last}",
    "projection.last_alike_ohm": "{last_ohm} at {at_c}",
    "projection.last_apart_ohm": "{last_ohm} at {bench_c}; at {at_c}, as learnt from its model, {same_ohm}",
    "projection.last_borrowed_ohm": "{last_ohm} at {bench_c}; at {at_c}, by the law of its chemistry, {same_ohm}",
    "projection.last_no_bench": "{last_ohm}, bench temperature not noted; taken as {same_ohm} at {at_c}",
    "projection.last_alike_v": "{last_v}",
    "projection.last_apart_v": "{last_v} as read, {same_v} corrected",
    "projection.moved_ohm": "Rose by {moved_ohm} {when} (from {from_ohm} to {to_ohm} at {at_c}){since}. {told}",
    "projection.moved_v": "Fell by {moved_v} {when} (from {from_v} to {to_v}, corrected){since}. {told}",
    "projection.stepped_ohm": "Rose by {moved_ohm} {when} (from {from_ohm} to {to_ohm} at {at_c}; of this a step of {step_ohm} "
    "about {step_on}){since}. {told}",
    "projection.stepped_v": "Fell by {moved_v} {when} (from {from_v} to {to_v}, corrected; of this a step of {step_v} "
    "about {step_on}){since}. {told}",
    "projection.fresh_ohm": "Rose by {moved_ohm} about {since_date}: the newest {run} readings stand at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. {told}",
    "projection.fresh_v": "Fell by {moved_v} about {since_date}: the newest {run} readings stand at {to_v} (corrected), those before "
    "at {from_v}. {told}",
    "projection.fresh_few_ohm": "Rose by {moved_ohm} about {since_date}: the newest {run} readings stand at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. Measure again. {told}",
    "projection.fresh_few_v": "Fell by {moved_v} about {since_date}: the newest {run} readings stand at {to_v} (corrected), those before "
    "at {from_v}. Measure again. {told}",
    "projection.fresh_one_ohm": "Rose by {moved_ohm} about {since_date}: the newest reading stands at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. Measure again. {told}",
    "projection.fresh_one_v": "Fell by {moved_v} about {since_date}: the newest reading stands at {to_v} (corrected), those before "
    "at {from_v}. Measure again. {told}",
    "projection.fresh_better_ohm": "Fell by {moved_ohm} about {since_date}: the newest {run} readings stand at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. No pack's resistance falls so far by itself: was something mended, or is it another pack? {told}",
    "projection.fresh_better_v": "Rose by {moved_v} about {since_date}: the newest {run} readings stand at {to_v} (corrected), those before "
    "at {from_v}. {told}",
    "projection.fresh_few_better_ohm": "Fell by {moved_ohm} about {since_date}: the newest {run} readings stand at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. Measure again. {told}",
    "projection.fresh_few_better_v": "Rose by {moved_v} about {since_date}: the newest {run} readings stand at {to_v} (corrected), those before "
    "at {from_v}. Measure again. {told}",
    "projection.fresh_one_better_ohm": "Fell by {moved_ohm} about {since_date}: the newest reading stands at {to_ohm} (at {at_c}), those before "
    "at {from_ohm}. Measure again. {told}",
    "projection.fresh_one_better_v": "Rose by {moved_v} about {since_date}: the newest reading stands at {to_v} (corrected), those before "
    "at {from_v}. Measure again. {told}",
    "projection.without_them": "Without them: {told}",
    "projection.newest_off_v": "stands {off_v} below the readings before it; used, but re-measure",
    "projection.newest_off_ohm": "stands {off_ohm} above the readings before it; used, but re-measure",
    "projection.newest_off_better_v": "stands {off_v} above the readings before it; used, but re-measure",
    "projection.newest_off_better_ohm": "stands {off_ohm} below the readings before it; used, but re-measure",
    "projection.episode_low_v": "one of {run} readings from {since_date} to {until_date} that stand {off_v} below those before and after: does not fit the pack, used",
    "projection.episode_high_v": "one of {run} readings from {since_date} to {until_date} that stand {off_v} above those before and after: does not fit the pack, used",
    "projection.episode_low_ohm": "one of {run} readings from {since_date} to {until_date} that stand {off_ohm} below those before and after: does not fit the pack, used",
    "projection.episode_high_ohm": "one of {run} readings from {since_date} to {until_date} that stand {off_ohm} above those before and after: does not fit the pack, used",
    "projection.steady_since": ", steady since",
    "projection.open_since": "; whether it is steady since cannot be told yet",
    "projection.in_month": "in {month}",
    "projection.between_months": "between {from_month} and {to_month}",
    "projection.steady_ohm": "{count} comparable checks: last reading {last}, level {level_ohm}, limit {limit_ohm}.",
    "projection.steady_v": "{count} comparable checks: last reading {last}, level {level_v}, limit {limit_v}.",
    "projection.steady_open_ohm": "{count} comparable checks: last reading {last}, level {level_ohm}; {limit_ohm} is reached not before "
    "{early_date}, with an open end (80 % range).",
    "projection.steady_open_v": "{count} comparable checks: last reading {last}, level {level_v}; {limit_v} is reached not before "
    "{early_date}, with an open end (80 % range).",
    "projection.beyond_ohm": "The limit of {limit_ohm} is reached ({count} comparable checks): level {level_ohm}, last reading {last}.",
    "projection.not_within_ohm": "Does not reach its limit of {limit_ohm} within three years ({count} comparable checks). Level {level_ohm}, {change_ohm} in 30 days; last reading {last}.",
    "projection.range_ohm": "Reaches its limit of {limit_ohm} around {likely_month}, 80 % range {early_date} to {late_date} ({count} comparable checks; "
    + _RANGE
    + "). Level {level_ohm}, {change_ohm} in 30 days; last reading {last}.",
    "projection.likely_ohm": "Reaches its limit of {limit_ohm} around {likely_month}, 80 % range from {early_date} with an open end ({count} comparable checks; "
    + _RANGE
    + "). Level {level_ohm}, {change_ohm} in 30 days; last reading {last}.",
    "projection.open_ohm": "Reaches its limit of {limit_ohm} not before {early_date}, with an open end (80 % range; {count} comparable checks; "
    + _RANGE
    + "). Level {level_ohm}, {change_ohm} in 30 days; last reading {last}.",
    "projection.beyond_v": "The limit of {limit_v} is reached ({count} comparable checks): level {level_v}, last reading {last}.",
    "projection.not_within_v": "Does not reach its limit of {limit_v} within three years ({count} comparable checks). Level {level_v}, {change_v} in 30 days; last reading {last}.",
    "projection.range_v": "Reaches its limit of {limit_v} around {likely_month}, 80 % range {early_date} to {late_date} ({count} comparable checks; "
    + _RANGE
    + "). Level {level_v}, {change_v} in 30 days; last reading {last}.",
    "projection.likely_v": "Reaches its limit of {limit_v} around {likely_month}, 80 % range from {early_date} with an open end ({count} comparable checks; "
    + _RANGE
    + "). Level {level_v}, {change_v} in 30 days; last reading {last}.",
    "projection.open_v": "Reaches its limit of {limit_v} not before {early_date}, with an open end (80 % range; {count} comparable checks; "
    + _RANGE
    + "). Level {level_v}, {change_v} in 30 days; last reading {last}.",
    "projection.undated_v": "{count} comparable checks: level {level_v}, {change_v} in 30 days; last reading {last}; limit {limit_v}. No day is "
    "told: from {low_v} to {high_v} a group the volts of this chemistry hardly change with its charge.",
    "projection.newest_left_ohm": "The newest reading, {read_ohm} of {done_at}, does not fit: measure again. Without it: {told}",
    "projection.newest_left_v": "The newest reading, {read_v} of {done_at}, does not fit: measure again. Without it: {told}",
    "projection.newest_back_ohm": "The newest reading, {read_ohm} of {done_at}, stands where this pack stood before {since_date}; the {run} "
    "higher ones between are as doubtful as it is: measure again, the next one decides. Without it: {told}",
    "projection.newest_back_one_ohm": "The newest reading, {read_ohm} of {done_at}, stands where this pack stood before {since_date}; the "
    "higher one between is as doubtful as it is: measure again, the next one decides. Without it: {told}",
    "projection.newest_back_v": "The newest reading, {read_v} of {done_at}, stands where this pack stood before {since_date}; the {run} lower "
    "ones between are as doubtful as it is: measure again, the next one decides. Without it: {told}",
    "projection.newest_back_one_v": "The newest reading, {read_v} of {done_at}, stands where this pack stood before {since_date}; the lower "
    "one between is as doubtful as it is: measure again, the next one decides. Without it: {told}",
    "projection.newest_silent": "The newest reading, {read_v} of {done_at}, shows nothing: wake the pack attended and read it again. "
    "Before it: {told}",
    "projection.reads_nothing": "shows nothing, which says nothing about the cells",
    "projection.doubt_none": "no loaded reading of this visit can be used",
    "projection.doubt_swapped": "rested and loaded look exchanged; used the other way round",
    "projection.doubt_not_this_pack": "does not fit this pack fully charged: re-measure (not full, mistyped, or another pack?)",
    "projection.doubt_rest_too_short": "rest too short or unknown",
    "projection.back_ohm": "stands where this pack stood before {since_date}; the {run} higher ones between ({off_ohm} above) are as doubtful: "
    "re-measure, the next one decides",
    "projection.back_one_ohm": "stands where this pack stood before {since_date}; the higher one between ({off_ohm} above) is as doubtful: "
    "re-measure, the next one decides",
    "projection.back_v": "stands where this pack stood before {since_date}; the {run} lower ones between ({off_v} below) are as doubtful: "
    "re-measure, the next one decides",
    "projection.back_one_v": "stands where this pack stood before {since_date}; the lower one between ({off_v} below) is as doubtful: "
    "re-measure, the next one decides",
    "projection.far_off": "does not fit the pack ({off} times its usual scatter off): re-measure",
    "projection.because_ohm": "Resistance from rested and loaded volts of one visit, brought to {at_c} with {energy} kJ/mol, learnt from this pack model.",
    "projection.because_few_ohm": "Resistance from rested and loaded volts of one visit, brought to {at_c} with {energy} kJ/mol: the law of its chemistry, since fewer than {need} packs of this model were read under load.",
    "projection.verdict_law": "{told} Verdicts use a fixed {fixed} kJ/mol for every model, so their figure for the same reading differs.",
    "projection.verdict_as_measured": "{told} Verdicts compare each reading as it was measured.",
    "projection.because_v": "Rested volts brought to 25 °C and one hour of rest; each meter's own offset is taken out. "
    "They show charge and balance, not capacity.",
    "projection.because_flat": "From {low_v} to {high_v} a group the volts of this chemistry hardly change with its charge: a reading near full "
    "shows that it was full, a lower one not how much is missing.",
    "projection.likely_day": "The likely month is the one by which about half of such packs had crossed in trials with simulated fleets; within two years that is before the middle line reaches the limit.",
    "projection.narrower_ohm": "{count} more checks with a loaded reading would narrow today's level from ± {now_ohm} to ± {then_ohm}.",
    "projection.narrower_v": "{count} more rested checks would narrow today's level from ± {now_v} to ± {then_v}.",
    "projection.narrow_enough": "More checks now would hardly narrow the range: today's level is known well enough; how fast the pack goes on is what is open.",
    "projection.suspect": "Reading of {done_at}: {why}.",
    "projection.loaded_alone": "loaded without a rested reading of the same pack and meter within {near_minutes}",
    "projection.corrected": "corrected or taken back",
    "projection.file_column": "{file}: column {column} is missing",
    "projection.file_row": "{file}, row {row}: {column} “{typed}” is not usable",
    "projection.file_unreadable": "{file} cannot be read: {why}",
    "projection.bad_horizons": "“{typed}” are not horizons; write whole days above zero, such as 28,91,182",
    "projection.unknown_model": "{file}, row {row}: model “{typed}” is not in the models file",
}
