"""Written procedures by kind of work, their versions, and the set of rules a depot follows.

The text of a procedure is data shipped with the program and has a version.  A depot may add its own
text, which has a version of its own.  A job keeps which of both was in force: "check 1", or
"check 1 + KW 2" for the second text of depot KW.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Work(StrEnum):
    """Kinds of work that have a written procedure."""

    CHECK = "check"
    LOOK_OVER = "look_over"
    RESET = "reset"
    GUIDED_JOB = "guided_job"
    FUSE = "fuse"
    QUARANTINE_LOOK = "quarantine_look"


class RuleSet(StrEnum):
    """Whose rules a depot follows; with OWN only its own text stands."""

    NONE = ""
    UK = "UK"
    EU = "EU"
    US = "US"
    AU = "AU"
    OWN = "own"


@dataclass(frozen=True, slots=True)
class SiteText:
    """What a depot adds to the procedure of a kind of work; an empty text takes it back.

    `code` is "KW-check"; `version` counts from 1 with every change.
    """

    code: str
    depot: str
    work: str
    version: int
    text: str


def site_code(depot: str, work: Work) -> str:
    """The code under which a depot's text for a kind of work is kept."""
    return f"{depot}-{work.value}"


def token(work: Work, shipped: int, site: SiteText | None) -> str:
    """What a job keeps of the procedure in force."""
    own = "" if site is None or not site.text else f" + {site.depot} {site.version}"
    return f"{work.value} {shipped}{own}"


def versions_in(kept: str) -> tuple[str, str, int, str, int]:
    """(work, version as printed, shipped version, depot, its version) of what a job kept; "" and 0 where there is none.

    ValueError for text of another form.
    """
    first, _, own = kept.partition(" + ")
    work, _, shipped = first.rpartition(" ")
    depot, _, version = own.rpartition(" ")
    printed = f"{shipped} + {own}" if own else shipped
    return work, printed, int(shipped), depot, int(version) if version else 0
