"""Safety notes of the bench, each with its authority or marked as common practice."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """One statement and where it comes from."""

    statement: str
    source: str


PRACTICE = "common practice, no source"

NOTES = (
    Note(
        "Very hot, swollen, leaking, hissing, cracking, an odd smell or smoke: stop using and charging it. "
        "White vapour means that it is failing now.",
        "County Durham and Darlington Fire and Rescue Service, e-bikes and e-scooters",
    ),
    Note(
        "Smoke or fire: raise the alarm, get out, stay out, call the fire service. Do not fight it.",
        "Fire services' public advice (County Durham and Darlington; Humberside)",
    ),
    Note("The vapour is toxic and flammable: keep away from it.", "Fire and Emergency New Zealand, public advice"),
    Note(
        "A pack that was under water or wet inside counts as damaged, even if it works.",
        "Dublin City Council and Fire and Rescue New South Wales, public advice",
    ),
    Note(
        "Charge only with the charger that belongs to the pack, not in the way out, with nothing that burns nearby.",
        "Washington State fire code, WAC 51-54A-0323",
    ),
    Note(
        "Keep damaged packs out of the premises and never in the way out.",
        "UK Department for Transport, premises guide, 2024",
    ),
    Note(
        "Meter on DC volts, leads in COM and V: a lead left in the current socket is a short circuit across the pack.",
        PRACTICE,
    ),
    Note("Eye protection; no rings, watch or bracelets; one tool at the contacts at a time.", PRACTICE),
    Note(
        "The pack's voltage is the average of its cell groups and clears none of them. Nobody here opens a pack: cells, "
        "groups and battery management are work for the maker or a licensed repairer.",
        PRACTICE,
    ),
)
