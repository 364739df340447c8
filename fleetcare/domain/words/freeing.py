"""What would free a vehicle, and why."""

WORDS: dict[str, str] = {
    "free.fit_unknown": "the record does not tell which packs {vehicle} takes: state its charge-end voltage and chemistry",
    "free.once_out": "usable once {pack} is out, in the quarantine place, and another pack is fitted; look at the contacts of {vehicle} "
    "first. A spare is proposed when it is out.",
    "free.once_out_alone": "usable, limited, once {pack} is out, in the quarantine place; look at the contacts of {vehicle} first",
    "free.none_brief": "none that is passed and in date fits",
    "free.none_fits": "no passed spare in date with {charge_v} charge-end voltage, {chemistry}, connector {connector} is on a shelf",
    "free.too_few": "every spare that fits was given to a vehicle that it frees, or there are too few for this one. Packs needed here: {packs}",
    "free.here": "{shelf}, same depot",
    "free.away": "{shelf}, {depot}, {distance} away",
    "free.far_unknown": "{shelf}, {depot}, distance not recorded",
    "free.depot_unknown": "{shelf}, at a depot nobody recorded",
    "free.proposed": "Fit {pack}: full at {rested_v} on {checked_date}, {charged}; {place}.",
    "free.also": "{pack} fits too: full at {rested_v} on {checked_date}, {charged}; {place}.",
    "free.charged": "charged again {charged_at} on {charger}",
    "free.charged_somewhere": "charged again {charged_at}, nobody knows on which charger",
    "free.not_charged": "no charge on record since",
    "free.together": "Proposed for all vehicles together; nothing moves by itself. Charge it fully first if it was used since.",
}
