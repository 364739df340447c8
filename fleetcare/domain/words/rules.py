"""Sentences of the rules: each names the rule and the number, and what to do next."""

WORDS: dict[str, str] = {
    "full.pass": "Rested full {rested_v}: at or above the pass line of {pass_v}.",
    "full.watch": "Rested full {rested_v}: below the pass line of {pass_v}, at or above the pull line of {pull_v}.",
    "full.pull": "Rested full {rested_v}: below the pull line of {pull_v}.",
    "full.too_near": "Rested full {rested_v} is within this meter's error (±{error_v}) of the pull line of {pull_v}: "
    "chance of being below {chance_percent}.",
    "rest.too_short": "Rest {rest}: at least {need_minutes} are needed before a rested reading can be judged.",
    "low.low_hold": "{rested_v} is {per_group_v} per group on average; hold below {group_limit_v} ({limit_v}).",
    "low.do_not_charge": "{rested_v} is {per_group_v} per group on average; do not charge below {group_limit_v} ({limit_v}).",
    "low.near_low_hold": "{rested_v} is within this meter's error of the hold limit of {limit_v} ({group_limit_v} per group).",
    "low.near_do_not_charge": "{rested_v} is within this meter's error of the do-not-charge limit of {limit_v} "
    "({group_limit_v} per group).",
    "over_full.stop": "{rested_v} is above the over-full stop of {limit_v}. Resting hides an over-charge.",
    "over_full.too_near": "{rested_v} is within this meter's error of the over-full stop of {limit_v}: "
    "chance of being above {chance_percent}.",
    "over_full.query": "{rested_v} is above the over-full query line of {limit_v}.",
    "jump.found": "{change_v} since {earlier_date}: a change of {limit_v} or more needs a second measurement.",
    "ohm.pass": "Loaded resistance {resistance_ohm}: below the watch limit of {watch_ohm}.",
    "ohm.watch": "Loaded resistance {resistance_ohm}: at or above the watch limit of {watch_ohm}, below the pull limit "
    "of {pull_ohm}.",
    "ohm.pull": "Loaded resistance {resistance_ohm}: above the pull limit of {pull_ohm}.",
    "ohm.too_near": "Loaded resistance {resistance_ohm} is within the measurement's error of the pull limit of {pull_ohm}: "
    "chance of being above {chance_percent}.",
    "ohm.pass_corrected": "Loaded resistance {resistance_ohm} at {bench_c}, {corrected_ohm} at {at_c} (fixed law): below the watch limit "
    "of {watch_ohm}.",
    "ohm.watch_corrected": "Loaded resistance {resistance_ohm} at {bench_c}, {corrected_ohm} at {at_c} (fixed law): at or above the watch "
    "limit of {watch_ohm}, below the pull limit of {pull_ohm}.",
    "ohm.pull_corrected": "Loaded resistance {resistance_ohm} at {bench_c}, {corrected_ohm} at {at_c} (fixed law): above the pull limit "
    "of {pull_ohm}.",
    "ohm.too_near_corrected": "Loaded resistance {resistance_ohm} at {bench_c}, {corrected_ohm} at {at_c} (fixed law), is within the "
    "measurement's error of the pull limit of {pull_ohm}: chance of being above {chance_percent}.",
    "ohm.too_cold": "Loaded test at {bench_c}: not judged below {limit_c}, cold alone makes the sag larger.",
    "ohm.no_baseline": "Loaded resistance not judged: no baseline is recorded for this pack model yet. It is the model's figure when new, at its temperature: Fleet set-up (Ctrl+N), Pack models.",
    "ohm.no_temperature": "Loaded resistance not judged: the bench temperature is unknown, and the limit holds at {at_c}.",
    "ohm.other_load": "Loaded resistance not judged: taken at {load_a} for {hold_seconds}, the limit holds for {rule_a} and "
    "{rule_seconds}.",
    "silent.sleeps": "{rested_v} at the contacts says nothing about the cells: on {model} the output is off until woken by "
    "vehicle, charger or button.",
    "silent.unknown": "{rested_v} at the contacts says nothing about the cells: the output may be asleep, switched off or "
    "tripped.",
    "look.all_good": "Visual inspection: all items looked at and good.",
    "look.danger": "Visual inspection: {item}.",
    "look.found": "Visual inspection: {item}.",
    "trip.no_reset": "{cause}: no reset until the cause is found outside the pack.",
    "trip.any_count": "{count} trips in {window_days}; {rule} of any kind hold the pack.",
    "trip.unexplained_count": "{count} unexplained trips in {window_days}; {rule} hold the pack.",
    "next.stop": "Do not charge, reset or test it. If it smokes, hisses or is getting hotter: leave, raise the alarm, call the "
    "fire service. Otherwise bring it to the quarantine place, contacts covered, with its quarantine sheet.",
    "next.do_not_charge": "Do not charge. Cover the contacts and quarantine it; only the maker or a licensed repairer goes on.",
    "next.over_full": "Do not charge, do not ride. Hold it apart, read it with a second meter, measure the charger's output.",
    "next.pull_again": "Second reading below the pull line: keep it out of service and plan its replacement.",
    "next.flat_again": "Below the pull line again: keep it out of service. These volts do not show how much is missing, and one more charge "
    "alone will not tell. Read it with a second meter; measure its charger's output, if the charger's maker says that it shows one without a "
    "pack; then charge it fully, attended, and leave it on its own charger for the pack maker's balance time. If it still reads as low: the "
    "maker or a licensed repairer.",
    "next.charge_and_repeat": "Charge it fully with its own charger, let it rest, and repeat once: one low reading usually "
    "means it was not full.",
    "next.near_do_not_charge": "Hold it and do not charge it. Read it with a more accurate meter: below the do-not-charge limit it is quarantined, "
    "for the maker or a licensed repairer only.",
    "next.low_hold": "Hold it. A charge only attended, by somebody who may release, with its own charger, and if the maker "
    "allows it; then measure again after 24 h.",
    "next.clean_contacts": "Clean the contacts and repeat; then measure the drop across each connector half under load. "
    "Replace both halves together.",
    "next.watch_resistance": "May go out. Look at both halves of the connector, and repeat the loaded check on the day it is next due.",
    "next.watch_resistance_in": "Look at both halves of the connector, and repeat the loaded check on the day it is next due.",
    "next.settle": "Read it again with a more accurate meter, or after a longer rest, before it is decided.",
    "next.second_meter": "Read it with a second meter and measure the charger's output.",
    "next.measure_again": "Measure it a second time; both readings are kept.",
    "next.look_closer": "May go out only when the finding is mended. Ground the vehicle if the connector or latch is at fault.",
    "next.watch": "May go out. Check it again on the day it is next due.",
    "next.watch_in": "Check it again on the day it is next due.",
    "next.repeat_rested": "Let it rest the full time and read it again; the check is still due.",
    "next.wake": "Prove the meter on a known source, wake the pack on a known-good vehicle or its own charger, attended, and "
    "read the same contacts within a minute. If it was laid up or unseen for 30 days, do not put it on a charger.",
    "next.wake_stored": "Never on a charger after storage. Prove the meter on a known source, wake the pack on a known-good vehicle and read "
    "the same contacts within a minute. If it still reads nothing, hold it: it leaves for its maker.",
    "next.back_to_work": "Back to work.",
    "next.stays_held": "It stays held: a reading releases nothing. The release is a deed of its own.",
    "next.stays_and": "{told_sentence} {step}",
    "next.pack_stays_in": "It stays in: {reason_sentence}",
    "next.vehicle_stays_in": "{vehicle} stays in: {reason_sentence}",
    "next.vehicle_stays_in_for": "{pack} passes, but {vehicle} stays in: {reason_sentence}",
    "next.vehicle_limited": "{vehicle} goes out limited: {reason_sentence}",
    "next.vehicle_limited_for": "{pack} passes, but {vehicle} goes out limited: {reason_sentence}",
    "next.more_reasons": "{told} And {more} more: see the board.",
    "due.long_rest": "{told}; a long rest, {ago_days} unseen: read it before any charge",
    "due.reads_nothing": "its reading of {on_date} shows nothing, {read_v}: wake it attended and read it again",
    "due.weekly": "every {every_days} from the last valid check on {last_date}",
    "pack.retired": "not in service",
    "pack.reads_nothing": "{pack}: reads nothing, {read_v} on {read_date}, which says nothing about its cells.",
    "pack.never_checked": "{pack}: no valid check on record",
    "pack.overdue": "{pack}: last valid check {last_date}, {ago_days} ago",
    "pack.misfit": "{pack}: last reading ({last_date}) does not fit this pack, or those before it do not",
    "pack.too_near": "{pack}: last reading ({last_date}) too near to call",
    "pack.due": "{pack}: check due {due_date}, last {last_date}",
    "vehicle.no_pack": "no pack fitted",
    "vehicle.empty_bay": "{have} of {bays} packs fitted",
    "vehicle.pack_reason": "{pack}: {reason}",
    "hold.read_again_v": "{reason} Read on {read_date}; read again on {newest_date}: {newest_v}.",
    "hold.read_again_ohm": "{reason} Read on {read_date}; read again on {newest_date}: {newest_ohm} as measured, not brought to another temperature.",
    "hold.read_again_corrected": "{reason} Read on {read_date}; read again on {newest_date}: {newest_ohm} at {bench_c}, {corrected_ohm} at "
    "{at_c} (fixed law).",
    "hold.corrected_v": "{reason} Read on {read_date}, corrected since to {newest_v}.",
    "hold.corrected_ohm": "{reason} Read on {read_date}, corrected since to {newest_ohm} as measured.",
    "hold.corrected_unloaded": "{reason} Read on {read_date}, corrected since to {newest_v} at rest and no loaded reading.",
    "hold.read_struck": "{reason} Read on {read_date}; that check was taken back since.",
    "hold.read_on": "{reason} Read on {read_date}.",
    "hold.in_words": "{remark} ({reason})",
    "step.pack_danger": "Leave it in quarantine; look at it daily; maker or licensed carrier only.",
    "step.take_out": "Take {pack} out before {vehicle} goes out. {step}",
    "step.pack_fault": "Fault-finding, then a passed check and a release.",
    "step.pack_action_due": "Do what is asked, then release it.",
    "step.pack_unknown": "Find out its history, check it, then release it.",
    "step.vehicle_danger": "Do not use it; keep away from other vehicles.",
    "step.vehicle_fault": "Mend it, then release it.",
    "step.vehicle_action_due": "Do what is asked, then release it.",
    "step.vehicle_unknown": "Find out, then release it.",
    "step.pack_retired": "Take it out of the vehicle.",
    "step.wake": "Wake it attended and read it again; never on a charger if it was laid up or unseen for 30 days.",
    "step.wake_stored": "Never on a charger after storage: wake it on a known-good vehicle and read it again.",
    "step.first_check": "Make its first full check.",
    "step.check_now": "Check it before it goes out.",
    "step.check_today": "Check it today.",
    "step.measure_again": "Measure it again today.",
    "step.fit_pack": "Fit a passed pack of the same class.",
    "ask.unit_slip": "{typed} V is above any charge for {series} groups (stop {limit_v}). Was it {maybe_v}? "
    "Type the value as the meter shows it, in volts.",
    "ask.too_high": "{typed} V is above any charge for {series} groups (stop {limit_v}). Read the meter and the label again.",
    "ask.swapped": "{typed} V is {per_group_v} per group, below {group_limit_v} ({limit_v}). Were two digits swapped: {maybe_v}?",
    "ask.too_low": "{typed} V is {per_group_v} per group, below {group_limit_v} ({limit_v}). Read the meter again, and prove it "
    "on a known source.",
    "ask.jump": "{change_v} against {earlier_v} on {earlier_date}; {limit_v} or more is measured a second time. Is it right?",
    "ask.jump_lower": "{jump_v} lower than last time ({earlier_v} on {earlier_date}); a change of {limit_v} or more is measured "
    "a second time.",
    "ask.jump_higher": "{jump_v} higher than last time ({earlier_v} on {earlier_date}); a change of {limit_v} or more is measured "
    "a second time.",
    "ask.ohm_fell": "{resistance_ohm} loaded resistance is {fell_percent} below this pack's own ({usual_ohm} at {bench_c}, from its "
    "last {checks} checks by this load), and resistance does not fall by itself. Another pack? Readings of two packs exchanged? "
    "Load not on for its whole time, or not {load_a}? Read it loaded again. If contacts were cleaned since, note it in the remark.",
    "ask.ohm_fell_unknown": "{resistance_ohm} loaded resistance is {fell_percent} below this pack's own ({usual_ohm}, from its last "
    "{checks} checks by this load), more than a warm day explains. Another pack? Readings of two packs exchanged? Load not on "
    "for its whole time, or not {load_a}? Read it loaded again. If contacts were cleaned since, note it in the remark.",
    "entry.empty.volt": "Nothing is typed here yet: type the volts.",
    "entry.empty.ampere": "Nothing is typed here yet: type the amps.",
    "entry.empty.degC": "Nothing is typed here yet: type the degrees Celsius.",
    "entry.empty.ohm": "Nothing is typed here yet: type the ohms.",
    "entry.empty.ampere_hour": "Nothing is typed here yet: type the ampere-hours.",
    "entry.not_a_number": "“{typed}” is not a number. Type digits with a point or comma, without the unit ({unit}).",
    "entry.thousands": "“{typed}” has a thousands separator. Type digits with one point or comma only.",
    "entry.unit_typed": "“{typed}” has a unit; the field is in {unit} and the unit is not typed. Did you mean {as_unit}? "
    "Nothing was changed.",
    "entry.other_unit": "“{typed}” is in another unit; this field takes {unit}.",
    "entry.negative_v": "{typed_v} has a minus sign: are the leads reversed? Swap them and type the reading without the sign.",
    "entry.load_not_positive": "{typed_a}: the load's current must be above zero.",
    "entry.bench_c_range": "{typed_c} is outside −40 to 60 °C. Type the bench temperature in °C, or choose unknown.",
    "entry.not_finite": "That is not a number that a meter can show.",
    "entry.load_incomplete": "Loaded volts and amps belong together: type both or neither.",
    "entry.loaded_above_rested": "Loaded {loaded_v} is above rested {rested_v}; under load the voltage falls. Were the two "
    "readings swapped?",
}
