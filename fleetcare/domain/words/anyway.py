"""When somebody wants a grounded vehicle out anyway."""

WORDS: dict[str, str] = {
    "anyway.heading": "{vehicle} is wanted out anyway",
    "anyway.danger": "Danger has no override, for nobody here. Use another vehicle.",
    "anyway.fault": "A fault is mended, not overridden: then somebody who may release ends the hold with a reason.",
    "anyway.unknown": "Nobody knows its state: check it first.",
    "anyway.action_due": "Only lateness stands against it: do the check, or put it off by name where the site's rules allow.",
    "anyway.mixed": "More than lateness stands against it, so putting the check off would not let it out.",
    "anyway.spare": "Or take a spare: {offer}",
    "anyway.instead": "Ready instead, same kind and depot: {vehicles}",
    "anyway.instead_more": "{told}, and {more} more: on the board, below the vehicles that need something.",
    "anyway.close": "Close",
}
