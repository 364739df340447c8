"""Sentences about packs put away: how fast they lose volts, and why that cannot be told."""

WORDS: dict[str, str] = {
    "quantity.stored_v": "Volts in storage",
    "storage.too_few": "not enough stored readings that can be compared ({have} of {need}): same meter, rested over 3 hours, "
    "similar temperature, nothing charged in between",
    "storage.too_short": "the stored readings span {span_days}; a leak shows only over {need_days} or more",
    "storage.plateau": "not told from volts: between {low_v} and {high_v} a group an LFP pack reads the same over most of its charge "
    "(now {group_v}); only near empty or full do its volts show a leak",
    "storage.in_use_since": "before the pack was last charged or in use",
    "storage.charged_since": "before the volts rose: charged in between",
    "storage.rest_too_short": "rest shorter than 3 hours, or unknown",
    "storage.other_meter": "read with another meter than {meter}",
    "storage.no_temperature": "bench temperature unknown",
    "storage.other_temperature": "colder or warmer than the others (usually {usual_c})",
    "storage.no_normal": "Falls {rate} ± {error} mV a day ({count} stored readings over {span_days}, one meter). Whether that is "
    "usual is not known yet: {have} of {need} other packs of this model were stored at a similar charge.",
    "storage.usual": "Falls {rate} ± {error} mV a day ({count} stored readings over {span_days}, one meter): usual here, where "
    "{packs} packs like it lose {normal} ± {spread}.",
    "storage.faster": "Falls {rate} ± {error} mV a day ({count} stored readings over {span_days}, one meter): faster than usual "
    "here, where {packs} packs like it lose {normal} ± {spread}. A leak inside, or something left on that draws current.",
    "storage.too_near": "Falls {rate} ± {error} mV a day ({count} stored readings over {span_days}, one meter): too near to call "
    "against {normal} ± {spread} of {packs} packs like it.",
    "storage.steady": "No fall seen: {rate} ± {error} mV a day ({count} stored readings over {span_days}, one meter).",
    "storage.reaches": "{told} At this rate it reads {low_v} between {early_date} and {late_date} (80 % range).",
    "storage.reaches_open": "{told} At this rate it does not read {low_v} before {early_date}; the end is open (80 % range).",
    "storage.is_low": "{told} It is at {level_v} now, at or below the maker's storage band ({low_v}): charge it into the band.",
    "storage.what_settles": "One more reading by {meter} at about {usual_c}, rested over 3 hours, in two or three weeks would narrow it.",
    "storage.what_is_missing": "What would tell: {need} readings by one meter at similar temperature over at least {need_days}, with "
    "the pack left alone.",
    "storage.not_capacity": "Volts in storage show self-discharge and what draws on the pack, not what it holds. They are never "
    "compared with readings after a full charge.",
}
